package main

import (
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newAnswerCommand() *cobra.Command {
	return verbCommand("answer CHOICE", "Answer what the bench asks about a reading", bench.DoAnswer, cobra.MinimumNArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error {
			v.Choice = strings.Join(args, " ")
			return nil
		})
}
