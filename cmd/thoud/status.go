package main

import (
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc"
	"thoud/capture/bench"
)

// askStatus asks the running service how the bench stands.
func askStatus(cmd *cobra.Command) (bench.Status, error) {
	c, err := dial(cmd)
	if err != nil {
		return bench.Status{}, err
	}
	defer c.Close()
	return c.Status(cmd.Context())
}

func newStatusCommand() *cobra.Command {
	return &cobra.Command{Use: "status", Short: "Show where the bench stands and what to do", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			st, err := askStatus(cmd)
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), st)
			}
			printStatus(cmd.OutOrStdout(), st)
			return nil
		}}
}

func printStatus(w io.Writer, st bench.Status) {
	fmt.Fprintf(w, "bench %s, entry %d\n", st.Bench, st.N)
	for _, n := range st.Troubles {
		fmt.Fprintln(w, "trouble:", n.Words)
	}
	for _, h := range st.Hubs {
		fmt.Fprintln(w, hubWords(h, st.N))
	}
	switch {
	case st.Job == "":
		fmt.Fprintln(w, "no build is on the bench: thoud build start JOB PLAN")
	case st.Step == "":
		fmt.Fprintf(w, "job %s, at no step: thoud goto STEP\n", st.Job)
	default:
		fmt.Fprintf(w, "job %s, step %d of %d: %s (%s)\n%s\n", st.Job, st.StepNo, st.Steps, st.Title, st.Progress, st.Do)
	}
	if st.Hinders != "" {
		fmt.Fprintln(w, st.Hinders)
	}
	for _, h := range st.Held {
		fmt.Fprintln(w, h)
	}
	for _, c := range st.Confirm {
		fmt.Fprintln(w, "confirm:", c)
	}
	for _, q := range st.Asked {
		fmt.Fprintf(w, "asked: %s %q\n", q.Words, q.Choices)
	}
	if st.Pass > 0 {
		fmt.Fprintf(w, "pass %d, %s\n", st.Pass, st.PassIs)
	}
	for _, p := range st.Points {
		mark := " "
		if p.Current {
			mark = ">"
		}
		fmt.Fprintf(w, " %s %-28s %s\n", mark, p.Point, p.Value)
	}
	for _, r := range st.Results {
		printResult(w, "", r, "inch")
	}
	for _, t := range st.Inside {
		fmt.Fprintf(w, "in the engine: %s (%d), since %s\n", t.Name, t.Count, t.Step)
	}
	for _, l := range st.Loose {
		fmt.Fprintf(w, "loose: %s, until %s\n", l.Name, l.Ends)
	}
	for _, g := range st.Gauges {
		fmt.Fprintf(w, "gauge %s: %s %s\n", g.Name, g.Live, g.Fault)
	}
}

// hubWords say how far a hub is.
func hubWords(h bench.HubStatus, n uint64) string {
	switch {
	case h.Why != "":
		return fmt.Sprintf("hub %s: nothing gets there; %s", h.Hub, h.Why)
	case h.At == 0:
		return fmt.Sprintf("hub %s: has not asked since the service began", h.Hub)
	case !h.Linked:
		return fmt.Sprintf("hub %s: away since %s; it had every entry up to %d, and gets the rest once it is back", h.Hub, time.UnixMicro(h.At).Format(time.DateTime), h.N)
	case h.N < n:
		return fmt.Sprintf("hub %s: has every entry up to %d, %d to come", h.Hub, h.N, n-h.N)
	}
	return fmt.Sprintf("hub %s: has every entry", h.Hub)
}

// printResult prints a result in words: the adjustment first, then the figures and the verdict.
func printResult(w io.Writer, indent string, r bench.Result, system string) {
	head := r.Key
	if r.Provisional {
		head += " (provisional)"
	}
	if r.Refused != "" {
		fmt.Fprintf(w, "%s%s: no answer: %s\n", indent, head, r.Refused)
		return
	}
	in := func(s calc.Shown) string {
		if system == "mm" {
			return s.MM
		}
		return s.Inch
	}
	for _, a := range r.Orders() {
		fmt.Fprintf(w, "%s%s: %s\n", indent, head, in(a.Words))
	}
	for _, f := range r.Figures {
		line := fmt.Sprintf("%s%s: %s %s", indent, head, f.Name, in(f.Shown))
		if f.Verdict != calc.NoVerdict {
			line += fmt.Sprintf(", %s", f.Verdict)
		}
		if f.Reason != "" && f.Verdict == calc.VerdictTooClose {
			line += ": " + f.Reason
		}
		fmt.Fprintln(w, line)
	}
}
