package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newSignCommand() *cobra.Command {
	return verbCommand("sign INITIALS", "Sign the step off", bench.DoSign, cobra.ExactArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error { v.Initials = args[0]; return nil })
}
