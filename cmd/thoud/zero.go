package main

import (
	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newZeroCommand() *cobra.Command {
	cmd := withGauge(verbCommand("zero", "Set the zero of a gauge that rests on its datum", bench.DoZero, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			v.Value, err = quantityFlag(cmd, "size")
			return err
		}))
	cmd.Flags().String("size", "", "the size of the setting standard it rests on, as \"1.0000 in\" (default: the step's, else 0)")
	return cmd
}
