package main

import (
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

func newKeyCommand() *cobra.Command {
	cmd := withGauge(verbCommand("key VALUE", "Type a reading of a plain dial, as \"0.0215 in\"; it is marked keyed for ever", bench.DoKey, cobra.MinimumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			if v.Turns, err = cmd.Flags().GetInt("turns"); err != nil {
				return err
			}
			val, err := quantity.Parse(strings.Join(args, " "))
			v.Value = &val
			return err
		}))
	cmd.Flags().Int("turns", 0, "whole revolutions of the dial's hand besides VALUE (the gauge is registered with --per-turn)")
	return cmd
}
