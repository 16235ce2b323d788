package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newEngineCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "engine", Short: "Engines: the values that belong to an engine and go with it from build to build"}
	cmd.AddCommand(newEngineListCommand(), newEngineShowCommand(), newEngineSetCommand(), newEngineCopyCommand())
	return cmd
}

// engineLine is an engine in a list.
type engineLine struct {
	Engine string   `json:"engine"`
	Values int      `json:"values"`
	Jobs   []string `json:"jobs"`
	At     string   `json:"at,omitempty"` // when its record was last changed
}

func newEngineListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List the engines, their records and their builds", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lines := []engineLine{}
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) (err error) {
				lines, err = engineLines(ctx, s, name)
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			rows := [][]string{{"ENGINE", "VALUES", "JOBS", "CHANGED"}}
			for _, l := range lines {
				rows = append(rows, []string{l.Engine, strconv.Itoa(l.Values), strings.Join(l.Jobs, ", "), l.At})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}

func engineLines(ctx context.Context, s *store.Store, name string) ([]engineLine, error) {
	recorded, err := s.Engines(ctx, name)
	if err != nil {
		return nil, err
	}
	builds, err := s.Builds(ctx, name)
	if err != nil {
		return nil, err
	}
	lines := []engineLine{}
	for _, r := range recorded {
		g, err := s.Engine(ctx, name, r.Name, store.Newest)
		if err != nil {
			return nil, err
		}
		lines = append(lines, engineLine{Engine: r.Name, Values: len(g.Values), Jobs: []string{}, At: dayOf(r.At)})
	}
	for _, b := range builds {
		if b.Engine == "" {
			continue
		}
		i := slices.IndexFunc(lines, func(l engineLine) bool { return l.Engine == b.Engine })
		if i < 0 {
			i, lines = len(lines), append(lines, engineLine{Engine: b.Engine})
		}
		lines[i].Jobs = append(lines[i].Jobs, b.Job)
	}
	return lines, nil
}

func dayOf(at int64) string { return time.UnixMicro(at).Format("2006-01-02") }

func newEngineSetCommand() *cobra.Command {
	var source, u, units string
	var sure, keep bool
	cmd := withReason(&cobra.Command{Use: "set ENGINE NAME=VALUE...", Short: "Keep values of an engine in its record, for all its open and later builds", Args: cobra.MinimumNArgs(2),
		Long: `Keep values of an engine in its record. NAME= takes a value out of the record again: what the plan says holds then.
A word, a list ("0.002 in, 0.003 in") or a quantity is wanted, as the plan of the engine's builds has it. Besides the plan's data
the record has places for engine_number, frame_number, customer, shop, builder, and for any part mark_PART and serial_PART.
Where figures of an open build hang on a value they are shown first, old beside new, and it is kept only with --keep.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			sys, err := service.UnitSystem(units)
			if err != nil {
				return err
			}
			values, err := typedValues(args[1:], source, u)
			if err != nil {
				return err
			}
			v := bench.Verb{Name: bench.DoEngineSet, Engine: &bench.EngineSet{Engine: args[0], Values: values, Sure: sure}}
			gaugeAndReason(cmd, &v)
			if !keep {
				if err := showFirst(cmd, v, sys); err != nil {
					return err
				}
			}
			return ask(cmd, v)
		}})
	cmd.Flags().StringVar(&source, "source", "", "where the values come from: \"maker's data\", \"measured\" … (default: \""+bench.BuildersChoice+"\")")
	cmd.Flags().StringVar(&u, "u", "", "their standard uncertainty, as \"0.01 mm\"")
	cmd.Flags().StringVar(&units, "units", "inch", "of what is shown: inch or mm")
	cmd.Flags().BoolVar(&sure, "sure", false, "a value far from the one before it is meant")
	cmd.Flags().BoolVar(&keep, "keep", false, "keep it whatever hangs on it")
	addAskFlags(cmd)
	return cmd
}

// showFirst shows what hangs on values before they are kept; where something does, it is an error to go on.
func showFirst(cmd *cobra.Command, v bench.Verb, sys quantity.System) error {
	var p bench.Preview
	err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) (err error) {
		p, err = service.PreviewEngine(ctx, s, name, v)
		return err
	})
	if err != nil || p.Nothing() {
		return err
	}
	if wantJSON(cmd) {
		err = printJSON(cmd.OutOrStdout(), p)
	} else {
		printPreview(cmd.OutOrStdout(), p, sys)
	}
	return errors.Join(err, fmt.Errorf("not kept yet: %s; say it again with --keep to keep it", p.Words()))
}

// typedValues reads NAME=VALUE arguments.
func typedValues(args []string, source, u string) ([]bench.EngineValue, error) {
	var unsure *quantity.Value
	if u != "" {
		x, err := quantity.Parse(u)
		if err != nil {
			return nil, fmt.Errorf("--u: %w", err)
		}
		unsure = &x
	}
	var out []bench.EngineValue
	for _, a := range args {
		name, text, ok := strings.Cut(a, "=")
		if !ok {
			return nil, fmt.Errorf("%q is no value: want NAME=VALUE, as \"bore=73.4 mm\"", a)
		}
		text = strings.TrimSpace(text)
		out = append(out, bench.EngineValue{Name: strings.TrimPrefix(strings.TrimSpace(name), "engine."), Text: text, Gone: text == "", Source: source, U: unsure})
	}
	return out, nil
}

func newEngineCopyCommand() *cobra.Command {
	var job string
	cmd := &cobra.Command{Use: "copy [FROM] [TO]", Short: "Copy an engine's record to another engine, or the values that a build confirmed into its engine's record", Args: cobra.MaximumNArgs(2),
		Long: `Copied to another engine the values are not confirmed for it: its next build asks for them, all on one page.
With --job the values that were confirmed in that build are kept in the record of its engine: so a build that was begun before
there was a record need not be asked again.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			set := &bench.EngineSet{}
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) (err error) {
				set, err = toCopy(ctx, s, name, job, args)
				return err
			})
			if err != nil {
				return err
			}
			return ask(cmd, bench.Verb{Name: bench.DoEngineSet, Engine: set})
		}}
	cmd.Flags().StringVar(&job, "job", "", "the build whose confirmed values are kept")
	addAskFlags(cmd)
	return cmd
}

// toCopy gathers what a copy keeps.
func toCopy(ctx context.Context, s *store.Store, name, job string, args []string) (*bench.EngineSet, error) {
	if job != "" {
		if len(args) > 0 {
			return nil, errors.New("--job names the engine by its build: leave FROM and TO out")
		}
		b, _, err := s.Build(ctx, name, job, store.Newest)
		if err != nil {
			return nil, err
		}
		set := b.Offered()
		if len(set.Values) == 0 {
			return nil, fmt.Errorf("job %s confirmed nothing that the record of its engine does not hold", job)
		}
		return &set, nil
	}
	if len(args) < 2 {
		return nil, errors.New("say from which engine to which: thoud engine copy FROM TO; or --job JOB")
	}
	from, err := s.Engine(ctx, name, args[0], store.Newest)
	if err != nil {
		return nil, err
	}
	set := from.CopyTo(args[1])
	if len(set.Values) == 0 {
		return nil, fmt.Errorf("nothing is recorded of engine %q: thoud engine list shows what there is", args[0])
	}
	return &set, nil
}
