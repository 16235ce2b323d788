package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newWhatIfCommand() *cobra.Command {
	var job, units string
	var keep, sure bool
	cmd := &cobra.Command{Use: "whatif NAME=VALUE...", Short: "What if a value, a shim, a plate, a key, a limit or a reading were another: every figure, verdict and order that follows", Args: cobra.MinimumNArgs(1),
		Long: `Shows what would follow, and keeps nothing. Several things may be changed at once. NAME is engine data (engine.base_joint), a
reading that stands (STEP/POINT), or the limits of a figure (limit.STEP.FIGURE, as "0.004 in..0.006 in").
With --keep the choice is kept: engine data in the record of the engine, limits for this build. A reading can't be kept: it is
read again.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			sys, err := service.UnitSystem(units)
			if err != nil {
				return err
			}
			var p bench.Preview
			var verbs []bench.Verb
			err = withLedger(cmd, func(ctx context.Context, s *store.Store, name string) (err error) {
				p, verbs, err = service.WhatIf(ctx, s, name, job, args, sure)
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) && !keep {
				return printJSON(cmd.OutOrStdout(), p)
			}
			if !wantJSON(cmd) {
				printPreview(cmd.OutOrStdout(), p, sys)
			}
			if !keep {
				return nil
			}
			if len(p.Loses) > 0 {
				return errors.New(strings.Join(p.Loses, "; "))
			}
			for _, v := range verbs {
				if err := ask(cmd, v); err != nil {
					return err
				}
			}
			return nil
		}}
	cmd.Flags().StringVar(&job, "job", "", "of which build (default: the one on the bench)")
	cmd.Flags().StringVar(&units, "units", "inch", "inch or mm")
	cmd.Flags().BoolVar(&keep, "keep", false, "keep it as a choice")
	cmd.Flags().BoolVar(&sure, "sure", false, "a value far from the one before it is meant")
	addAskFlags(cmd)
	return cmd
}

// printPreview shows what would follow: old beside new.
func printPreview(w io.Writer, p bench.Preview, sys quantity.System) {
	for _, c := range p.Changes {
		fmt.Fprintf(w, "%s: %s → %s\n", c.Title, orNothing(c.Old), orNothing(c.New))
	}
	fmt.Fprintf(w, "%s\n", p.Words())
	last := ""
	head := func(at bench.PreviewStep) string {
		h := at.Title
		if at.Key != "" {
			h += ", " + at.Key
		}
		if at.Job != p.Job {
			h = "job " + at.Job + ", " + h
		}
		if h == last {
			return ""
		}
		last = h
		return "\n" + h + "\n"
	}
	for _, f := range p.Figures {
		fmt.Fprint(w, head(f.PreviewStep))
		fmt.Fprintf(w, "  %s: %s → %s\n", calc.FigureWords(f.Figure), valueWords(f.Old, sys), valueWords(f.New, sys))
	}
	for _, o := range p.Orders {
		fmt.Fprint(w, head(o.PreviewStep))
		fmt.Fprintf(w, "  %s → %s\n", orNothing(o.Old.In(sys)), orNothing(o.New.In(sys)))
	}
	for _, r := range p.Reopens {
		fmt.Fprintf(w, "\n%s would be opened again: %s\n", r.Title, calc.InUnits(r.Why, sys))
	}
	for _, own := range p.Own {
		fmt.Fprintf(w, "\n%s\n", own)
	}
	if len(p.Asks) > 0 {
		fmt.Fprintf(w, "\nasked about then: %s\n", strings.Join(p.Asks, ", "))
	}
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

func valueWords(v bench.PreviewValue, sys quantity.System) string {
	s := strings.TrimSpace(v.Shown.In(sys) + " " + v.U.In(sys))
	if v.Verdict != calc.NoVerdict {
		s += ", " + string(v.Verdict)
	}
	return orNothing(s)
}
