package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newConfirmCommand() *cobra.Command {
	return verbCommand("confirm [ITEM|all]", "Confirm what the step asks for: a customary value (engine.NAME) or a thing done", bench.DoConfirm, cobra.MaximumNArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error {
			if len(args) == 1 {
				v.Item = args[0]
			}
			return nil
		})
}
