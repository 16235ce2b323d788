package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

func newNoteCommand() *cobra.Command {
	return &cobra.Command{Use: "note", Short: "Show the newest signed note of where the ledger ends", Args: cobra.NoArgs,
		Long: `At each sign-off, once a day of work, and when it stops, the service signs where the ledger ends and what its results sum
up to. Keep the note elsewhere: mail it, print it, give it to the customer. thoud verify --note then says whether the ledger
still holds exactly what the note saw. On the same disk as the ledger it proves nothing against whoever owns the disk.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			text, err := service.NewestNote(dir)
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
