package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newBuildCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "build", Short: "Builds: engines on the bench"}
	cmd.AddCommand(newBuildStartCommand(), newBuildListCommand(), newBuildShowCommand(), newBuildCloseCommand(),
		newBuildCompareCommand(), newBuildHistoryCommand())
	return cmd
}

func newBuildStartCommand() *cobra.Command {
	var engine string
	var with []string
	cmd := &cobra.Command{Use: "start JOB PLAN", Short: "Start a build from a shipped plan or a plan file", Args: cobra.ExactArgs(2),
		Example: "  thoud build start 17 first-fit\n  thoud build start 18 pushrod-twin --with pushrods=tunnels --with balance=yes",
		RunE: func(cmd *cobra.Command, args []string) error {
			name, text, err := planText(cmd, args[1])
			if err != nil {
				return err
			}
			choices, err := plan.Choices(with)
			if err != nil {
				return err
			}
			if text, err = plan.Shape(name, text, choices); err != nil {
				return err
			}
			return ask(cmd, bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: args[0], Engine: engine, Plan: name, Text: string(text)}})
		}}
	cmd.Flags().StringArrayVar(&with, "with", nil, "shape the plan: a variant or a group and what it shall be, as pushrods=tubes or balance=yes")
	cmd.Flags().StringVar(&engine, "engine", "", "which engine it is, so that its builds can be compared")
	addAskFlags(cmd)
	return cmd
}

// planText reads a plan by name, one that ships or the shop's own, or from a file.
func planText(cmd *cobra.Command, arg string) (name string, text []byte, err error) {
	shipped, err := plan.Shipped()
	if err != nil {
		return "", nil, err
	}
	dir, err := stateDir(cmd)
	if err != nil {
		return "", nil, err
	}
	own, err := service.OwnPlans(dir)
	if err != nil {
		return "", nil, err
	}
	if slices.Contains(append(shipped, own...), arg) {
		text, err = service.PlanText(dir, arg)
		return arg, text, err
	}
	text, err = os.ReadFile(arg)
	if err != nil {
		return "", nil, fmt.Errorf("%q is no shipped plan (%s) and no file that can be read: %w", arg, strings.Join(shipped, ", "), err)
	}
	if _, err := plan.Parse(arg, text); err != nil {
		return "", nil, err
	}
	return arg, text, nil
}

func newBuildCloseCommand() *cobra.Command {
	return withReason(verbCommand("close [JOB]", "Close a build: nothing more is measured on it", bench.DoBuildClose, cobra.MaximumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			if len(args) == 1 {
				v.Place = &bench.Place{Build: args[0]}
			}
			return nil
		}))
}

// buildLine is a build in a list.
type buildLine struct {
	Job    string `json:"job"`
	Engine string `json:"engine,omitempty"`
	Plan   string `json:"plan"`
	Done   int    `json:"done"`
	Steps  int    `json:"steps"`
	Closed bool   `json:"closed"`
	Here   bool   `json:"here"`
}

func newBuildListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List the builds", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			lines := []buildLine{}
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				builds, here, err := service.Summaries(ctx, s, name)
				for _, b := range builds {
					lines = append(lines, buildLine{Job: b.Job, Engine: b.Engine, Plan: b.Plan, Steps: b.Steps, Done: b.Done, Closed: b.Closed > 0, Here: b.Job == here})
				}
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			rows := [][]string{{"JOB", "ENGINE", "PLAN", "STEPS DONE", "STATE"}}
			for _, l := range lines {
				state := "open"
				if l.Closed {
					state = "closed"
				}
				if l.Here {
					state += ", on the bench"
				}
				rows = append(rows, []string{l.Job, l.Engine, l.Plan, strconv.Itoa(l.Done) + " of " + strconv.Itoa(l.Steps), state})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}

// stepLine is a step of a build in a list.
type stepLine struct {
	Step     string         `json:"step"`
	Title    string         `json:"title"`
	Phase    plan.Phase     `json:"phase"`
	Progress bench.Progress `json:"progress"`
	Passes   int            `json:"passes"`
	Results  []bench.Result `json:"results,omitempty"`
}

func newBuildShowCommand() *cobra.Command {
	return &cobra.Command{Use: "show JOB", Short: "Show a build step by step with its figures", Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			lines := []stepLine{}
			err := withLedger(cmd, func(ctx context.Context, st *store.Store, name string) (err error) {
				lines, err = stepLines(ctx, st, name, args[0])
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			for _, l := range lines {
				fmt.Fprintf(cmd.OutOrStdout(), "%-8s %-24s %s\n", l.Progress, l.Step, l.Title)
				for _, r := range l.Results {
					printResult(cmd.OutOrStdout(), "         ", r, "inch")
				}
			}
			return nil
		}}
}

// stepLines gathers a build step by step, from its own entries.
func stepLines(ctx context.Context, s *store.Store, name, job string) ([]stepLine, error) {
	b, _, err := s.Build(ctx, name, job, store.Newest)
	if errors.Is(err, store.ErrNotThere) {
		return nil, fmt.Errorf("no build %q: thoud build list shows what there is", job)
	}
	if err != nil {
		return nil, err
	}
	history, err := s.Standing(ctx, name, job)
	if err != nil {
		return nil, err
	}
	results := bench.Results{}.With(history...)
	lines := []stepLine{}
	for _, step := range b.Plan.Steps {
		st := b.Step(step.ID)
		l := stepLine{Step: step.ID, Title: step.Title, Phase: step.Phase, Progress: bench.ProgressOf(b, step, results), Passes: len(st.Passes)}
		if p := st.Last(); p != nil {
			l.Results = results.OfPass(b, step, p.Number)
		}
		lines = append(lines, l)
	}
	return lines, nil
}
