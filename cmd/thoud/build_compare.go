package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/cmd/thoud/service"
	"thoud/store"
	"thoud/store/sheet"
)

func newBuildCompareCommand() *cobra.Command {
	var all bool
	var units string
	cmd := &cobra.Command{Use: "compare A B", Short: "Hold two builds beside each other: what differs beyond uncertainty", Args: cobra.ExactArgs(2),
		Long: `A and B are job numbers. At a hub a job of any bench is named BENCH/JOB; a job without its bench is that of --bench.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			sys, err := service.UnitSystem(units)
			if err != nil {
				return err
			}
			var found []sheet.Found
			err = withJobs(cmd, args, func(ctx context.Context, s *store.Store, name, job string) error {
				f, err := service.FoundBy(ctx, s, name, job)
				found = append(found, f)
				return err
			})
			if err != nil {
				return err
			}
			diffs := sheet.Compare(found[0], found[1])
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), diffs)
			}
			printDifferences(cmd, diffs, args, sys, all)
			return nil
		}}
	cmd.Flags().BoolVar(&all, "all", false, "list what is the same within its uncertainty too")
	cmd.Flags().StringVar(&units, "units", "inch", "inch or mm")
	return cmd
}

func printDifferences(cmd *cobra.Command, diffs []sheet.Difference, jobs []string, sys quantity.System, all bool) {
	w := cmd.OutOrStdout()
	rows := [][]string{{"STEP", "FIGURE", "JOB " + jobs[0], "JOB " + jobs[1], "DIFFERENCE", "UNCERTAINTY", ""}}
	n := 0
	for _, d := range diffs {
		if d.Differs {
			n++
		}
		if !d.Differs && !all {
			continue
		}
		figure := d.Figure
		if d.Key != "" {
			figure = d.Key + "." + figure
		}
		says, u := "the same within its uncertainty", "± "+inSystem(d.ShownU, sys)
		switch {
		case d.Differs && d.Known:
			says = "differs"
		case d.Differs:
			says = "differs, but its uncertainty is not known"
		}
		if !d.Known {
			u = "not known"
		}
		rows = append(rows, []string{d.Step, figure, inSystem(d.ShownA, sys), inSystem(d.ShownB, sys), inSystem(d.ShownBy, sys), u, says})
	}
	if len(diffs) == 0 {
		fmt.Fprintf(w, "jobs %s and %s have no figure in common\n", jobs[0], jobs[1])
		return
	}
	if len(rows) > 1 {
		table(w, rows)
	}
	fmt.Fprintf(w, "%d of %d figures differ beyond their uncertainty\n", n, len(diffs))
}

// inSystem picks a text's system of units.
func inSystem(s calc.Shown, sys quantity.System) string {
	if sys == quantity.Inch {
		return s.Inch
	}
	return s.MM
}
