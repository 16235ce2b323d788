package main

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/store"
)

func newQuarantineCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "quarantine", Short: "What was set aside: messages that do not belong to this ledger",
		Long: `A message that cannot be decoded, or that does not follow the ledger's last entry (another bench of this name, an entry
after a hole), is set aside: kept byte for byte, with why, and counted nowhere else.`}
	cmd.AddCommand(newQuarantineListCommand(), newQuarantineShowCommand())
	return cmd
}

func newQuarantineListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List what was set aside, and why", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return withRows(cmd, func(ctx context.Context, s *store.Store, name string) error {
				all, err := s.Quarantined(ctx, name)
				if err != nil {
					return err
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), all)
				}
				if len(all) == 0 {
					fmt.Fprintln(cmd.OutOrStdout(), "nothing was set aside")
					return nil
				}
				rows := [][]string{{"NO", "AT", "WHAT", "WHY"}}
				for _, q := range all {
					rows = append(rows, []string{strconv.FormatInt(q.ID, 10), time.UnixMicro(q.At).UTC().Format(time.DateTime), whatIsIt(q.Body), q.Why})
				}
				table(cmd.OutOrStdout(), rows)
				return nil
			})
		}}
}

// whatIsIt names a message, as far as it can be read.
func whatIsIt(body []byte) string {
	e, err := bench.Decode(body)
	if err != nil {
		return fmt.Sprintf("%d bytes", len(body))
	}
	return fmt.Sprintf("entry %d of bench %s, %s", e.N, e.Bench, e.Kind)
}

func newQuarantineShowCommand() *cobra.Command {
	return &cobra.Command{Use: "show NO", Short: "Show one message in full", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			id, err := strconv.ParseInt(args[0], 10, 64)
			if err != nil {
				return fmt.Errorf("%q is no number of a message: thoud quarantine list shows them", args[0])
			}
			return withRows(cmd, func(ctx context.Context, s *store.Store, name string) error {
				all, err := s.Quarantined(ctx, name)
				if err != nil {
					return err
				}
				for _, q := range all {
					if q.ID != id {
						continue
					}
					if wantJSON(cmd) {
						return printJSON(cmd.OutOrStdout(), q)
					}
					fmt.Fprintf(cmd.OutOrStdout(), "set aside %s: %s\n", time.UnixMicro(q.At).UTC().Format(time.DateTime), q.Why)
					if json.Valid(q.Body) {
						_, err := fmt.Fprintf(cmd.OutOrStdout(), "%s\n", q.Body)
						return err
					}
					_, err := fmt.Fprintf(cmd.OutOrStdout(), "%q\n", q.Body)
					return err
				}
				return fmt.Errorf("no message %d was set aside: thoud quarantine list shows them", id)
			})
		}}
}
