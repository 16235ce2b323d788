package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newBackupCommand() *cobra.Command {
	return &cobra.Command{Use: "backup FILE", Short: "Copy the ledger to a file, while the service runs", Args: cobra.ExactArgs(1),
		Long: `Copies the ledger as it stands at this moment. The copy is checked and forced to the disk before it gets its name; a file
that is there already is not written over. To go back to it: stop the service, put it in the state folder as ` + service.LedgerName + `
(and remove ` + service.LedgerName + `-wal and ` + service.LedgerName + `-shm), start the service.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			return withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				step, end := progressBar(cmd.ErrOrStderr(), "copying")
				err := s.Backup(ctx, args[0], step)
				end()
				if err != nil {
					return err
				}
				copied, err := store.OpenReadOnly(ctx, args[0])
				if err != nil {
					return err
				}
				defer copied.Close()
				c, err := copied.Count(ctx, name)
				if err != nil {
					return err
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), map[string]any{"file": args[0], "entries": c.Entries, "results": c.Results})
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s: %d entries, %d readings, %d results\n", args[0], c.Entries, c.Readings, c.Results)
				return nil
			})
		}}
}
