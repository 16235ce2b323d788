package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newDroppedCommand() *cobra.Command {
	return verbCommand("dropped WHAT", "Something fell: the build is held until it is found", bench.DoDropped, cobra.MinimumNArgs(1), itemArg)
}

func newFoundCommand() *cobra.Command {
	return verbCommand("found", "What fell is found and counted", bench.DoFound, cobra.NoArgs, nil)
}
