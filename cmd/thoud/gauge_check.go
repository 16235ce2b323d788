package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// newGaugeCheckCommand keeps a check against setting standards.
func newGaugeCheckCommand() *cobra.Command {
	var standardU string
	var due int
	cmd := &cobra.Command{Use: "check NAME SIZE[=SHOWN]...", Short: "Check a gauge against setting standards of several sizes",
		Long: `Each SIZE is a setting standard, as "1.0000 in". With =SHOWN what the gauge showed on it is typed; without, thoud asks
for it to be put on and reads the gauge. The largest error and its uncertainty feed the uncertainty of every later verdict.`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			errs, err := gaugeErrors(cmd, args[0], args[1:])
			if err != nil {
				return err
			}
			u := 0.0
			if standardU != "" {
				v, err := quantity.Parse(standardU)
				if err != nil {
					return fmt.Errorf("--standard: %w", err)
				}
				u = v.Float() / 2 // a certificate states U with k = 2
			}
			c, err := bench.CheckOf(args[0], errs, u)
			if err != nil {
				return err
			}
			if due > 0 {
				c.Due = time.Now().AddDate(0, 0, due).UnixMicro()
			}
			return ask(cmd, bench.Verb{Name: bench.DoGaugeCheck, Check: &c})
		}}
	cmd.Flags().StringVar(&standardU, "standard", "", "expanded uncertainty (k = 2) of the standards, as \"0.5 um\"")
	cmd.Flags().IntVar(&due, "due", 0, "days until the next check is due; it warns then")
	addAskFlags(cmd)
	return cmd
}

// newGaugeStudyCommand keeps a study of repeatability.
func newGaugeStudyCommand() *cobra.Command {
	var times int
	cmd := &cobra.Command{Use: "study NAME SIZE [SHOWN...]", Short: "Find a gauge's repeatability from repeated readings of one size",
		Long: `SIZE is what is measured again and again, seated anew each time. The readings are typed after it, or, with none typed,
thoud asks for the part --times times and reads the gauge. Their standard deviation feeds the uncertainty of every later
verdict.`,
		Args: cobra.MinimumNArgs(2),
		RunE: func(cmd *cobra.Command, args []string) error {
			pairs := make([]string, 0, len(args))
			for _, shown := range args[2:] {
				pairs = append(pairs, args[1]+"="+shown)
			}
			for len(args) == 2 && len(pairs) < times {
				pairs = append(pairs, args[1])
			}
			errs, err := gaugeErrors(cmd, args[0], pairs)
			if err != nil {
				return err
			}
			c, err := bench.StudyOf(args[0], errs)
			if err != nil {
				return err
			}
			return ask(cmd, bench.Verb{Name: bench.DoGaugeCheck, Check: &c})
		}}
	cmd.Flags().IntVar(&times, "times", 10, "how often, where the gauge is read")
	addAskFlags(cmd)
	return cmd
}

// gaugeErrors gives what the gauge showed less the standard's size, in the base unit: typed, or read from the gauge.
func gaugeErrors(cmd *cobra.Command, gauge string, pairs []string) ([]float64, error) {
	var out []float64
	in := bufio.NewScanner(cmd.InOrStdin())
	for i, p := range pairs {
		size, shown, typed := strings.Cut(p, "=")
		want, err := quantity.Parse(size)
		if err != nil {
			return nil, err
		}
		var got quantity.Value
		if typed {
			got, err = quantity.ParseAs(want.Kind(), shown)
		} else {
			fmt.Fprintf(cmd.ErrOrStderr(), "%d of %d: put %s on %s and press Enter ", i+1, len(pairs), gauge, want)
			if !in.Scan() {
				return nil, errors.New("ended before every size was read; nothing is kept")
			}
			got, err = newestOf(cmd.Context(), cmd, gauge)
			fmt.Fprintln(cmd.ErrOrStderr(), got)
		}
		if err != nil {
			return nil, err
		}
		d, err := got.Sub(want)
		if err != nil {
			return nil, fmt.Errorf("%s on %s: %w", got, want, err)
		}
		out = append(out, d.Float())
	}
	return out, nil
}

// newestOf is what a gauge shows now, against its zero where it has one.
func newestOf(ctx context.Context, cmd *cobra.Command, gauge string) (quantity.Value, error) {
	c, err := dial(cmd)
	if err != nil {
		return quantity.Value{}, err
	}
	defer c.Close()
	st, err := c.Status(ctx)
	if err != nil {
		return quantity.Value{}, err
	}
	for _, g := range st.Gauges {
		switch {
		case g.Name != gauge:
		case !g.Open || !g.Raw.Valid():
			return quantity.Value{}, fmt.Errorf("gauge %q shows nothing: is it switched on?", gauge)
		case g.Zero != "":
			return quantity.Parse(g.Live)
		default:
			return g.Raw, nil
		}
	}
	return quantity.Value{}, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", gauge)
}
