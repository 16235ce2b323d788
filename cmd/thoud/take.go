package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newTakeCommand() *cobra.Command {
	return withGauge(verbCommand("take", "Take what the gauge shows now as the reading", bench.DoTake, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}
