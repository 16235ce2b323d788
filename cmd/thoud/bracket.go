package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

func newBracketCommand() *cobra.Command {
	return withGauge(verbCommand("bracket GOES STOPS", "Read feelers: the largest blade that goes, the smallest that does not", bench.DoBracket, cobra.ExactArgs(2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			goes, err := quantity.ParseAs(quantity.Length, args[0])
			if err != nil {
				return fmt.Errorf("the blade that goes: %w", err)
			}
			stops, err := quantity.ParseAs(quantity.Length, args[1])
			if err != nil {
				return fmt.Errorf("the blade that does not go: %w", err)
			}
			v.Goes, v.Stops = &goes, &stops
			return nil
		}))
}
