package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store/sheet"
)

func newBuildHistoryCommand() *cobra.Command {
	var engine, plot, units, since string
	cmd := &cobra.Command{Use: "history POINT", Short: "Follow one dimension over the builds of an engine: wear between rebuilds", Args: cobra.ExactArgs(1),
		Long: `POINT is a point of a step, STEP/POINT, or a figure of it, STEP/RUN.FIGURE; the step may be left out where the name is found
in one step only. Each build tells what its pass in force found. A change counts where it exceeds the two uncertainties together.
Where the hours of the engine were told (thoud hours), a straight line through the builds says what wears in an hour, and when
the limit will be met.

At a hub the builds of all its benches count, the engine known by its name wherever it was built, and a job is BENCH/JOB; --bench
takes those of one bench alone. The hours are those told last, at whichever bench.`,
		Example: "  thoud build history guide-clearance/left.contact --engine 'shop twin no. 4' --plot wear.svg",
		RunE: func(cmd *cobra.Command, args []string) error {
			sys, err := service.UnitSystem(units)
			if err != nil {
				return err
			}
			var points []sheet.Point
			odd, named := "", func(p sheet.Point) string { return p.Job }
			err = withBenches(cmd, func(ctx context.Context, all []service.Kept, atHub bool) error {
				found, err := service.Follow(ctx, all, engine, args[0])
				if err != nil {
					return err
				}
				if points, err = sheet.History(found.Builds, args[0]); err != nil {
					return err
				}
				life, words, err := service.LifeIn(ctx, all, points[0].Engine)
				points, odd = sheet.WithHours(points, life.HoursBy), words
				if atHub {
					named = sheet.Point.Ref
				}
				return err
			})
			if err != nil {
				return err
			}
			if plot != "" {
				svg, ok := sheet.HistoryChart(points, sys)
				if !ok {
					return errors.New("nothing to draw")
				}
				if err := toFile(cmd, plot, func(w io.Writer) error { _, err := io.WriteString(w, svg); return err }); err != nil {
					return err
				}
			}
			wear, why, worn := sheet.WearOf(points, since)
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), points)
			}
			table(cmd.OutOrStdout(), historyRows(points, sys, named))
			if worn {
				why = inSystem(wear.Words, sys)
			}
			fmt.Fprintln(cmd.OutOrStdout(), why)
			if odd != "" {
				fmt.Fprintln(cmd.OutOrStdout(), odd)
			}
			return nil
		}}
	cmd.Flags().StringVar(&since, "since", "", "reckon the wear from this job on: a new part begins a new line")
	cmd.Flags().StringVar(&engine, "engine", "", "which engine, where the ledger has several")
	cmd.Flags().StringVar(&plot, "plot", "", "draw it to this SVG file too")
	cmd.Flags().StringVar(&units, "units", "inch", "inch or mm")
	return cmd
}

// historyRows is the table of a history; named says how a build is called.
func historyRows(points []sheet.Point, sys quantity.System, named func(sheet.Point) string) [][]string {
	rows := [][]string{{"JOB", "ENDED", "HOURS", "VALUE", "UNCERTAINTY", "SINCE THE BUILD BEFORE", ""}}
	for _, p := range points {
		says := ""
		switch {
		case p.Changed:
			says = "changed"
		case p.By != nil && p.U > 0:
			says = "the same within its uncertainty"
		}
		rows = append(rows, []string{named(p), minuteOf(p.At), hoursTold(p), inSystem(p.Shown, sys), inSystem(p.ShownU, sys), inSystem(p.ShownBy, sys), says})
	}
	return rows
}

// hoursTold are the hours of the engine at a point of its history.
func hoursTold(p sheet.Point) string {
	if p.Hours == nil {
		return ""
	}
	return bench.HourWords(*p.Hours)
}

// minuteOf is a moment of a sheet as a table tells it, to the minute and in this machine's time.
func minuteOf(at string) string {
	when, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	return when.Local().Format("2006-01-02 15:04")
}
