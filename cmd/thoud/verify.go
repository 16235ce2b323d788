package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newVerifyCommand() *cobra.Command {
	return &cobra.Command{Use: "verify", Short: "Check the ledger: every seal, every reading, every result", Args: cobra.NoArgs,
		Long: `Walks the chain of seals, holds every reading's row against its entry, and computes every stored result again from what it
was computed from. Says exactly which row is wrong, and ends with status 1 where one is.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				step, end := progressBar(cmd.ErrOrStderr(), "verifying")
				check := service.Check()
				check.Progress = step
				rep, err := s.Verify(ctx, name, check)
				end()
				if err != nil {
					return err
				}
				w := cmd.OutOrStdout()
				if wantJSON(cmd) {
					if err := printJSON(w, rep); err != nil {
						return err
					}
				} else {
					fmt.Fprintf(w, "bench %s: %d entries, %d readings, %d results\n", name, rep.Entries, rep.Readings, rep.Results)
					fmt.Fprintf(w, "ends with seal %s\n", rep.Seal)
					for _, f := range rep.Unknown {
						fmt.Fprintf(w, "%s: %s\n", f.Row, f.What)
					}
					for _, f := range rep.Wrong {
						fmt.Fprintf(w, "WRONG  %s: %s\n", f.Row, f.What)
					}
				}
				if n := len(rep.Wrong); n > 0 {
					return fmt.Errorf("ledger %s: rows wrong: %d; keep the file as it is, and compare it with a backup", s.Path(), n)
				}
				if !wantJSON(cmd) {
					fmt.Fprintln(w, "whole")
				}
				return nil
			})
		}}
}
