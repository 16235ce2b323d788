package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/store"
)

func newEngineShowCommand() *cobra.Command {
	return &cobra.Command{Use: "show ENGINE", Short: "Show every value of an engine: from where, who confirmed it and when, what follows from what", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			var page bench.EnginePage
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) (err error) {
				page, err = enginePage(ctx, s, name, args[0])
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), page)
			}
			w := cmd.OutOrStdout()
			for _, g := range page.Groups {
				fmt.Fprintln(w, g.Title)
				rows := [][]string{}
				for _, v := range g.Values {
					source := v.Source
					if v.From != "" {
						source = "follows from " + v.From
					}
					if v.Against != "" {
						source += "; said otherwise: " + v.Against
					}
					if v.Asked {
						source += " (to confirm)"
					}
					last := ""
					if v.Changed {
						last = "last time " + v.Last
					}
					rows = append(rows, []string{"  " + v.Name, v.Words, source, strings.TrimSpace(v.By + " " + dayIf(v.At)), last})
				}
				table(w, rows)
			}
			return nil
		}}
}

func dayIf(at int64) string {
	if at == 0 {
		return ""
	}
	return dayOf(at)
}

// enginePage gathers an engine's record with its newest build and the one before it.
func enginePage(ctx context.Context, s *store.Store, name, engine string) (bench.EnginePage, error) {
	g, err := s.Engine(ctx, name, engine, store.Newest)
	if err != nil {
		return bench.EnginePage{}, err
	}
	rows, err := s.Builds(ctx, name)
	if err != nil {
		return bench.EnginePage{}, err
	}
	var builds []*bench.Build
	for i := len(rows) - 1; i >= 0 && len(builds) < 2; i-- {
		if rows[i].Engine != engine {
			continue
		}
		b, _, err := s.Build(ctx, name, rows[i].Job, store.Newest)
		if err != nil {
			return bench.EnginePage{}, err
		}
		builds = append(builds, b)
	}
	l, err := s.Load(ctx, name)
	if err != nil {
		return bench.EnginePage{}, err
	}
	parts := l.State.PartsIn(engine, 0)
	if g.N == 0 && len(builds)+len(parts) == 0 {
		return bench.EnginePage{}, fmt.Errorf("there is no engine %q: thoud engine list shows what there is", engine)
	}
	return bench.EnginePageOf(g, builds, parts), nil
}
