package main

import (
	"context"
	"errors"
	"strconv"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// newBenchCommand changes over from one engine to another. Several are worked on in turn; each waits where it was left.
func newBenchCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "bench [JOB]", Short: "Change over to another build: go on where it was left; without JOB list those that wait",
		Long: `Each build waits at the step and point where it was left, and goes on there. The zeros of gauges are not carried from one
engine to another: the step asks for them again.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return listWaiting(cmd)
			}
			v := bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: args[0]}}
			return ask(cmd, v)
		}}
	addAskFlags(cmd)
	return cmd
}

// waitingLine is an open build and where it waits.
type waitingLine struct {
	Job    string `json:"job"`
	Engine string `json:"engine,omitempty"`
	Stands string `json:"stands"`
	Done   int    `json:"done"`
	Steps  int    `json:"steps"`
	Here   bool   `json:"here"`
}

func listWaiting(cmd *cobra.Command) error {
	lines := []waitingLine{}
	err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
		builds, here, err := service.Summaries(ctx, s, name)
		for _, b := range builds {
			if b.Closed == 0 {
				lines = append(lines, waitingLine{b.Job, b.Engine, b.Stands, b.Done, b.Steps, b.Job == here})
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	if wantJSON(cmd) {
		return printJSON(cmd.OutOrStdout(), lines)
	}
	if len(lines) == 0 {
		return errors.New("no build is open: start one (thoud build start JOB PLAN)")
	}
	rows := [][]string{{"JOB", "ENGINE", "STANDS AT", "STEPS DONE", ""}}
	for _, l := range lines {
		state := ""
		if l.Here {
			state = "on the bench"
		}
		rows = append(rows, []string{l.Job, l.Engine, l.Stands, strconv.Itoa(l.Done) + " of " + strconv.Itoa(l.Steps), state})
	}
	table(cmd.OutOrStdout(), rows)
	return nil
}
