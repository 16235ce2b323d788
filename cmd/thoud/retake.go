package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newRetakeCommand() *cobra.Command {
	return withReason(verbCommand("retake [POINT]", "Withdraw the last reading (it is kept) and stand at its point again", bench.DoRetake, cobra.MaximumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			if len(args) == 1 {
				v.Place = &bench.Place{Point: args[0]}
			}
			return nil
		}))
}
