package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

// verbCommand is a command that asks one verb of the bench; fill completes the verb from arguments and flags.
func verbCommand(use, short, verb string, args cobra.PositionalArgs, fill func(*cobra.Command, []string, *bench.Verb) error) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Args: args, RunE: func(cmd *cobra.Command, args []string) error {
		v := bench.Verb{Name: verb}
		if fill != nil {
			if err := fill(cmd, args, &v); err != nil {
				return err
			}
		}
		return ask(cmd, v)
	}}
	addAskFlags(cmd)
	return cmd
}

func withGauge(cmd *cobra.Command) *cobra.Command {
	cmd.Flags().String("gauge", "", "which gauge, where several could be meant")
	return cmd
}

func withReason(cmd *cobra.Command) *cobra.Command {
	cmd.Flags().String("reason", "", "why; it is kept")
	return cmd
}

func gaugeAndReason(cmd *cobra.Command, v *bench.Verb) {
	if g, err := cmd.Flags().GetString("gauge"); err == nil {
		v.Gauge = g
	}
	if r, err := cmd.Flags().GetString("reason"); err == nil {
		v.Reason = r
	}
}
