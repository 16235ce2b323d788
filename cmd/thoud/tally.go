package main

import (
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newTallyCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "tally", Short: "Temporary things in the engine: what goes in must come out, whole"}
	cmd.AddCommand(
		verbCommand("in ITEM", "It goes into the engine", bench.DoTallyIn, cobra.MinimumNArgs(1), itemArg),
		func() *cobra.Command {
			out := verbCommand("out ITEM", "It comes out of the engine, counted", bench.DoTallyOut, cobra.MinimumNArgs(1), func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
				v.Item = strings.Join(args, " ")
				v.Count, err = cmd.Flags().GetInt("count")
				return err
			})
			out.Flags().Int("count", 0, "pieces counted")
			return out
		}())
	return cmd
}

func itemArg(_ *cobra.Command, args []string, v *bench.Verb) error {
	v.Item = strings.Join(args, " ")
	return nil
}
