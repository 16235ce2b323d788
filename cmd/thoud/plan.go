package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
)

// maxPlanFile is how much of a plan file is read: more than any plan may have, so that the plan's own limit speaks.
const maxPlanFile = 1 << 20

// newPlanCommand gives "plan": the plans that ship, what is in one, and what is wrong with a file.
func newPlanCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "List, show and check plans: the ordered steps of a build",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newPlanListCommand(), newPlanShowCommand(), newPlanCheckCommand(), newPlanSchemaCommand(), newPlanNewCommand(), newPlanAdoptCommand(), newPlanEditCommand())
	return cmd
}

// planSummary is a plan as "plan list" and "plan check" give it.
type planSummary struct {
	Name      string   `json:"name"`
	Title     string   `json:"title"`
	Version   int      `json:"version"`
	Cylinders []string `json:"cylinders"`
	Steps     int      `json:"steps"`
	Points    int      `json:"points"`
	Confirm   int      `json:"to_confirm"` // engine data to be confirmed
}

func summarize(p *plan.Plan) planSummary {
	s := planSummary{Name: p.Name, Title: p.Title, Version: p.Version, Cylinders: p.Cylinders, Steps: len(p.Steps)}
	for _, st := range p.Steps {
		s.Points += len(st.Points)
	}
	for _, d := range p.Engine {
		if d.Confirm {
			s.Confirm++
		}
	}
	return s
}

func newPlanListCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the plans that ship, and your own",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			names, err := plan.Shipped()
			if err != nil {
				return err
			}
			var all []planSummary
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			own, err := service.OwnPlans(dir)
			if err != nil {
				return err
			}
			for _, name := range append(names, own...) {
				text, err := service.PlanText(dir, name)
				if err != nil {
					return err
				}
				p, err := plan.Parse(name, text)
				if err != nil {
					return fmt.Errorf("plan %s: %w", name, err)
				}
				all = append(all, summarize(p))
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), all)
			}
			rows := [][]string{{"plan", "steps", "points", "cylinders", "title"}}
			for _, s := range all {
				rows = append(rows, []string{s.Name, fmt.Sprint(s.Steps), fmt.Sprint(s.Points), strings.Join(s.Cylinders, ", "), s.Title})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		},
	}
	return cmd
}

func newPlanShowCommand() *cobra.Command {
	var asText bool
	cmd := &cobra.Command{
		Use:   "show NAME|FILE",
		Short: "Show the engine data and the steps of a plan",
		Long:  "Show the engine data and the steps of a plan that ships, or of a plan file.\nWith --text the plan's own text is written, to be kept and changed.",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			name, text, err := planText(cmd, args[0])
			if err != nil {
				return err
			}
			p, err := plan.Parse(name, text)
			if err != nil {
				return err
			}
			switch {
			case asText:
				_, err = rawOut(cmd).Write(p.Text)
				return err
			case wantJSON(cmd):
				return printJSON(cmd.OutOrStdout(), describePlan(p))
			}
			return showPlan(cmd.OutOrStdout(), p)
		},
	}
	cmd.Flags().BoolVar(&asText, "text", false, "write the plan's own text")
	return cmd
}

// planCheck is what "plan check --json" writes.
type planCheck struct {
	OK     bool         `json:"ok"`
	Plan   *planSummary `json:"plan,omitempty"`
	Faults plan.Faults  `json:"faults,omitempty"`
}

func newPlanCheckCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "check FILE",
		Short: "Check a plan file and name every fault with line and column",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := readPlanFile(args[0])
			if err != nil {
				return err
			}
			p, err := plan.CheckShapes(args[0], text)
			var faults plan.Faults
			if errors.As(err, &faults) {
				if wantJSON(cmd) {
					if err := printJSON(cmd.OutOrStdout(), planCheck{Faults: faults}); err != nil {
						return err
					}
				} else {
					fmt.Fprintln(cmd.OutOrStdout(), faults.Error())
				}
				return &silentError{code: 1}
			}
			if err != nil {
				return err
			}
			s := summarize(p)
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), planCheck{OK: true, Plan: &s})
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: sound: %s, %s, %s to confirm\n", args[0],
				countWords(s.Steps, "step"), countWords(s.Points, "point"), countWords(s.Confirm, "value"))
			return nil
		},
	}
	return cmd
}

func countWords(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func readPlanFile(name string) ([]byte, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("plan file: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxPlanFile))
	if err != nil {
		return nil, fmt.Errorf("plan file %s: %w", name, err)
	}
	return text, nil
}
