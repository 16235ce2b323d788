package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store"
)

// newPlanAdoptCommand has a build go on by another text of its plan.
func newPlanAdoptCommand() *cobra.Command {
	return withReason(verbCommand("adopt JOB PLAN", "In mid-build: let a build go on by a changed plan, with a reason that is kept and printed", bench.DoPlan, cobra.ExactArgs(2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			name, text, err := planText(cmd, args[1])
			v.Build = &bench.Started{Job: args[0], Plan: name, Text: string(text)}
			return err
		}))
}

// newPlanEditCommand changes the plan of a build without writing its language, or in an editor.
func newPlanEditCommand() *cobra.Command {
	var c plan.Change
	var add plan.NewStep
	var leaveOut, putBack, change, after, mode, phase string
	var set, points []string
	cmd := &cobra.Command{Use: "edit JOB", Short: "In mid-build: add, leave out or change a step of a build's plan, or edit the plan's text", Args: cobra.ExactArgs(1),
		Long: `Readings stay where they were taken. A step that was begun is never taken away: it is left out with a reason, and what was
read in it stays in sight. Without any of the flags the plan's text is opened in the editor that $VISUAL or $EDITOR names.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			was, err := buildPlan(cmd, args[0])
			if err != nil {
				return err
			}
			c.Why, _ = cmd.Flags().GetString("reason") // the flag is there
			add.Mode, add.Phase, add.Names = plan.Mode(mode), plan.Phase(phase), points
			text, err := editedText(cmd.Context(), was, c, leaveOut, putBack, change, after, set, &add)
			if err != nil {
				return err
			}
			return ask(cmd, bench.Verb{Name: bench.DoPlan, Reason: c.Why, Build: &bench.Started{Job: was.Job, Plan: was.Started.Plan, Text: string(text)}})
		}}
	f := cmd.Flags()
	f.StringVar(&leaveOut, "leave-out", "", "a step that is not done in this build")
	f.StringVar(&putBack, "put-back", "", "a step that was left out and is done after all")
	f.StringVar(&change, "change", "", "a step to change, with --set")
	f.StringArrayVar(&set, "set", nil, "a key of that step and what takes its place, as the plan language writes it: seatings=2")
	f.StringVar(&add.Title, "add", "", "the title of a step to add")
	f.StringVar(&after, "after", "", "the step that it comes after (default: the last)")
	f.StringVar(&add.Do, "do", "", "what to do in it, one sentence")
	f.StringVar(&add.Role, "role", "", "the gauge that reads in it; without one it is looked at and confirmed")
	f.StringVar(&mode, "mode", "", "how it is read: press, settle, highest, lowest, swing, keyed, bracket")
	f.StringArrayVar(&points, "point", nil, "a place to read; several times for several")
	f.StringVar(&add.Least, "least", "", "the least that is wanted, as 0.004in")
	f.StringVar(&add.Most, "most", "", "the most that is wanted")
	f.StringVar(&phase, "phase", "", "dry, wash, final, start or heat (default: that of the step before)")
	withReason(cmd)
	addAskFlags(cmd)
	return cmd
}

// buildPlan gives a build with its plan, from the ledger.
func buildPlan(cmd *cobra.Command, job string) (b *bench.Build, err error) {
	err = withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
		b, _, err = s.Build(ctx, name, job, store.Newest)
		if errors.Is(err, store.ErrNotThere) {
			return fmt.Errorf("no build %q: thoud build list shows what there is", job)
		}
		return err
	})
	return b, err
}

// editedText is the plan of a build with what the flags change.
func editedText(ctx context.Context, was *bench.Build, c plan.Change, leaveOut, putBack, change, after string, set []string, add *plan.NewStep) ([]byte, error) {
	asked := 0
	for _, s := range []string{leaveOut, putBack, change, add.Title} {
		if s != "" {
			asked++
		}
	}
	switch {
	case asked > 1:
		return nil, errors.New("one change at a time: --leave-out, --put-back, --change or --add")
	case leaveOut != "":
		c.Step, c.LeaveOut = leaveOut, true
	case putBack != "":
		c.Step, c.PutBack = putBack, true
	case change != "":
		c.Step, c.Set = change, map[string]string{}
		for _, s := range set {
			key, value, ok := strings.Cut(s, "=")
			if !ok {
				return nil, fmt.Errorf("--set %q: want KEY=VALUE, as seatings=2", s)
			}
			c.Set[strings.TrimSpace(key)] = strings.TrimSpace(value)
		}
	case add.Title != "":
		c.Step, c.Add = after, add
	default:
		return editInEditor(ctx, was.Started.Plan, []byte(was.Text))
	}
	return plan.Changed(was.Started.Plan, []byte(was.Text), c)
}

// editInEditor lets a person change a text in an editor of their own.
func editInEditor(ctx context.Context, name string, text []byte) ([]byte, error) {
	editor := os.Getenv("VISUAL")
	if editor == "" {
		editor = os.Getenv("EDITOR")
	}
	if editor == "" {
		return nil, errors.New("say what to change (--leave-out, --put-back, --change, --add), or name an editor in $EDITOR")
	}
	dir, err := os.MkdirTemp("", "thoud-plan-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, strings.TrimSuffix(filepath.Base(name), ".toml")+".toml")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		return nil, err
	}
	words := strings.Fields(editor)
	ed := exec.CommandContext(ctx, words[0], append(words[1:], file)...)
	ed.Stdin, ed.Stdout, ed.Stderr = os.Stdin, os.Stdout, os.Stderr
	if err := ed.Run(); err != nil {
		return nil, fmt.Errorf("the editor %s: %w; nothing is changed", words[0], err)
	}
	return os.ReadFile(file)
}
