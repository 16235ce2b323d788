package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newNoteCommand() *cobra.Command {
	return &cobra.Command{Use: "note", Short: "Show the newest signed note of where the ledger ends", Args: cobra.NoArgs,
		Long: `At each sign-off, once a day of work, and when it stops, the service signs where the ledger ends and what its results sum
up to. Keep the note elsewhere: mail it, print it, give it to the customer. thoud verify --note then says whether the ledger
still holds exactly what the note saw. At a hub, with --bench, it is the bench's newest note with the hub's own signature under it. On the same disk as the ledger it proves nothing against whoever owns the disk.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			text, err := newestNote(cmd, dir)
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), map[string]string{"note": text})
			}
			_, err = fmt.Fprint(cmd.OutOrStdout(), text)
			return err
		}}
}

// newestNote is the newest note of a bench's state folder; at a hub, that of the bench that is meant, signed by both.
func newestNote(cmd *cobra.Command, dir string) (text string, err error) {
	if cmd.Flags().Changed("bench") {
		err = withRows(cmd, func(ctx context.Context, s *store.Store, name string) error {
			text, err = service.Witnessed(ctx, s, dir, name)
			return err
		})
		return text, err
	}
	return service.NewestNote(dir)
}
