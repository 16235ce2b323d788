package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newNextCommand() *cobra.Command {
	return verbCommand("next", "Go on: the next pass where the verdict is not in, else the next step", bench.DoNext, cobra.NoArgs, nil)
}
