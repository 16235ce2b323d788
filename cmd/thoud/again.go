package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newAgainCommand() *cobra.Command {
	return withReason(verbCommand("again", "Open another pass of this step", bench.DoAgain, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}
