package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newBackupCommand() *cobra.Command {
	return &cobra.Command{Use: "backup FILE", Short: "Copy the ledger, settings and own profiles to a file, while the service runs", Args: cobra.ExactArgs(1),
		Long: `Copies the ledger as it stands at this moment, with the settings and the own profiles where FILE ends in ` + service.ArchiveSuffix + `,
alone otherwise. The copy is checked and forced to the disk before it gets its name; a file that is there already is not
written over. thoud restore FILE goes back to it. No private key is in it.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			return withWholeLedger(cmd, func(ctx context.Context, s *store.Store, benches []string) error {
				step, end := progressBar(cmd.ErrOrStderr(), "copying")
				err := service.Backup(ctx, s, dir, args[0], step)
				end()
				if err != nil {
					return err
				}
				var c store.Counts
				for _, name := range benches {
					own, err := s.Count(ctx, name)
					if err != nil {
						return err
					}
					c.Entries, c.Readings, c.Results = c.Entries+own.Entries, c.Readings+own.Readings, c.Results+own.Results
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), map[string]any{"file": args[0], "entries": c.Entries, "results": c.Results})
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s: %d entries, %d readings, %d results\n", args[0], c.Entries, c.Readings, c.Results)
				return nil
			})
		}}
}
