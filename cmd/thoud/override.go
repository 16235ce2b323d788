package main

import (
	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

func newOverrideCommand() *cobra.Command {
	cmd := withReason(verbCommand("override engine|limit|needs|hold|verdict|tally|cure NAME [VALUE]",
		"Change engine data or a limit for this build, or pass over a prerequisite, with a reason that is kept and printed", bench.DoOverride, cobra.RangeArgs(2, 3),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			o := &bench.Override{What: args[0], Name: args[1]}
			if len(args) == 3 {
				val, err := quantity.Parse(args[2])
				if err == nil {
					o.Value = &val
				}
				if o.What == bench.OverEngine {
					o.Word = args[2] // the service knows whether it is a word or a quantity
				} else if err != nil {
					return err
				}
			}
			if o.Lower, err = quantityFlag(cmd, "lower"); err != nil {
				return err
			}
			if o.Upper, err = quantityFlag(cmd, "upper"); err != nil {
				return err
			}
			v.Override = o
			return nil
		}))
	cmd.Flags().String("lower", "", "of a limit: its lower side")
	cmd.Flags().String("upper", "", "of a limit: its upper side")
	return cmd
}
