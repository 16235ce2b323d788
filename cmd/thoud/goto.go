package main

import (
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

func newGotoCommand() *cobra.Command {
	return verbCommand("goto STEP [POINT]", "Stand at a step, or at a point of it", bench.DoGoto, cobra.RangeArgs(1, 2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			job, step, ok := strings.Cut(args[0], ":")
			if !ok {
				job, step = "", args[0]
			}
			v.Place = &bench.Place{Build: job, Step: step}
			if len(args) == 2 {
				v.Place.Point = args[1]
			}
			return nil
		})
}
