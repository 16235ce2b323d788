package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
)

// newPlanNewCommand cuts a plan to an engine and keeps it as one of the shop's own.
func newPlanNewCommand() *cobra.Command {
	var from, title, cylinders string
	var with []string
	cmd := &cobra.Command{Use: "new NAME", Short: "Cut a plan to your engine, without writing its language, and keep it as your own", Args: cobra.ExactArgs(1),
		Long: `The plan is kept in the folder plans of the state folder: it can be started like those that ship, shown, copied and changed.
thoud plan show lists the variants and groups that --with chooses.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			name, text, err := planText(cmd, from)
			if err != nil {
				return err
			}
			choices, err := plan.Choices(with)
			if err != nil {
				return err
			}
			t := plan.Tailoring{Title: title, Choices: choices}
			for _, c := range strings.Split(cylinders, ",") {
				if c = strings.TrimSpace(c); c != "" {
					t.Cylinders = append(t.Cylinders, c)
				}
			}
			if text, err = plan.Tailor(name, text, t); err != nil {
				return err
			}
			if err := service.KeepPlan(dir, args[0], text); err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), map[string]string{"plan": args[0]})
			}
			fmt.Fprintf(cmd.OutOrStdout(), "plan %s is kept; start a build of it with thoud build start JOB %s\n", args[0], args[0])
			return nil
		}}
	cmd.Flags().StringVar(&from, "from", "pushrod-twin", "the plan that it is cut from: one that ships, your own, or a file")
	cmd.Flags().StringVar(&title, "title", "", "what it is called")
	cmd.Flags().StringVar(&cylinders, "cylinders", "", "the cylinders as seen from the rider's seat, left first, with commas between")
	cmd.Flags().StringArrayVar(&with, "with", nil, "a variant or a group and what it shall be, as pushrods=tubes or balance=yes")
	return cmd
}
