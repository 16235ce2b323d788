package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newAcknowledgeCommand() *cobra.Command {
	return verbCommand("acknowledge", "Say that the step's cautions were read", bench.DoAcknowledge, cobra.NoArgs, nil)
}
