package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newReopenCommand() *cobra.Command {
	return withReason(verbCommand("reopen [STEP]", "Open a signed step again, with a reason", bench.DoReopen, cobra.MaximumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			if len(args) == 1 {
				v.Place = &bench.Place{Step: args[0]}
			}
			return nil
		}))
}
