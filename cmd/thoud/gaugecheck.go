package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/stat"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// newGaugeCheckCommand keeps a check against setting standards: pairs of the standard's size and what the gauge showed.
func newGaugeCheckCommand() *cobra.Command {
	var standardU string
	var study bool
	var due int
	cmd := &cobra.Command{Use: "check NAME SIZE=SHOWN...", Short: "Keep a check of a gauge against setting standards, or with --study its repeatability",
		Long: `Each SIZE=SHOWN is a setting standard's size and what the gauge showed on it, as "1.0000 in=1.0002 in". The largest
error and its uncertainty feed the uncertainty of every later verdict. With --study give at least three repeated
readings of one size: their standard deviation is the gauge's repeatability.`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			var errs []float64
			for _, a := range args[1:] {
				e, err := checkPair(a)
				if err != nil {
					return err
				}
				errs = append(errs, e)
			}
			c := &bench.Check{Gauge: args[0], Study: study}
			if due > 0 {
				c.Due = time.Now().AddDate(0, 0, due).UnixMicro()
			}
			sd := spread(errs)
			if study {
				if len(errs) < 3 {
					return fmt.Errorf("a study wants at least 3 readings, %d given", len(errs))
				}
				c.U, c.Dof = sd, float64(len(errs)-1)
				return ask(cmd, bench.Verb{Name: bench.DoGaugeCheck, Check: c})
			}
			u := 0.0
			if standardU != "" {
				v, err := quantity.Parse(standardU)
				if err != nil {
					return fmt.Errorf("--standard: %w", err)
				}
				u = v.Float() / 2 // a certificate states U with k = 2
			}
			for _, e := range errs {
				c.Error = math.Max(c.Error, math.Abs(e))
			}
			c.U = math.Hypot(u, sd)
			c.Dof = float64(len(errs) - 1)
			return ask(cmd, bench.Verb{Name: bench.DoGaugeCheck, Check: c})
		}}
	cmd.Flags().StringVar(&standardU, "standard", "", "expanded uncertainty (k = 2) of the standards, as \"0.5 um\"")
	cmd.Flags().BoolVar(&study, "study", false, "a study of repeatability rather than a check of the error")
	cmd.Flags().IntVar(&due, "due", 0, "days until the next check is due; it warns then")
	addAskFlags(cmd)
	return cmd
}

// checkPair is what a gauge showed less the standard's size, in the base unit.
func checkPair(s string) (float64, error) {
	size, shown, ok := strings.Cut(s, "=")
	if !ok {
		return 0, fmt.Errorf("%q: want SIZE=SHOWN, as \"1.0000 in=1.0002 in\"", s)
	}
	a, err := quantity.Parse(size)
	if err != nil {
		return 0, err
	}
	b, err := quantity.ParseAs(a.Kind(), shown)
	if err != nil {
		return 0, err
	}
	d, err := b.Sub(a)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", s, err)
	}
	return d.Float(), nil
}

// spread is the standard deviation with n − 1.
func spread(xs []float64) float64 {
	if len(xs) < 2 {
		return 0
	}
	return stat.StdDev(xs, nil)
}
