package main

import (
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newAnswerCommand() *cobra.Command {
	question := ""
	cmd := verbCommand("answer CHOICE", "Answer what the bench asks: about a reading, or what the plan asks", bench.DoAnswer, cobra.MinimumNArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error {
			v.Choice, v.Item = strings.Join(args, " "), question
			return nil
		})
	cmd.Flags().StringVar(&question, "question", "", "which question of the plan, by its id, to answer it otherwise with a --reason")
	return withReason(cmd)
}
