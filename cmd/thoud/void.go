package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newVoidCommand() *cobra.Command {
	return withReason(verbCommand("void", "Make this pass void, with a reason; its readings are kept", bench.DoVoid, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}
