package main

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newDueCommand() *cobra.Command {
	return &cobra.Command{Use: "due", Short: "What runs by the clock, and what is due: after the first heat, parts at the end of their life, regular work, checks", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			due := []bench.Due{}
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				got, err := dueOf(ctx, s, name)
				due = append(due, got...)
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), due)
			}
			printDue(cmd.OutOrStdout(), due)
			return nil
		}}
}

// dueOf reckons from the ledger alone, whether or not the service runs.
func dueOf(ctx context.Context, s *store.Store, name string) ([]bench.Due, error) {
	l, err := s.Load(ctx, name)
	if err != nil {
		return nil, err
	}
	now := bench.Moment{At: time.Now().UnixMicro()}
	open, results, err := service.OpenBuilds(ctx, s, name, l.State, l.Results, now)
	return bench.DueOf(l.State, open, results, now), err
}

func printDue(w io.Writer, due []bench.Due) {
	if len(due) == 0 {
		fmt.Fprintln(w, "nothing is due, and nothing runs by the clock")
		return
	}
	rows := [][]string{{"WHAT", "WHEN", "ENGINE", "JOB"}}
	for _, d := range due {
		rows = append(rows, []string{d.What, d.When, d.Engine, d.Job})
	}
	table(w, rows)
}

func newHoursCommand() *cobra.Command {
	return withReason(verbCommand("hours ENGINE HOURS", "Tell how many hours an engine has run in all, or with + how many since", bench.DoHours, cobra.ExactArgs(2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			v.Life = &bench.Life{Engine: args[0]}
			h, err := hoursOf(args[1])
			if strings.HasPrefix(args[1], "+") {
				v.Life.Plus = h
			} else {
				v.Life.Hours = h
			}
			return err
		}))
}

// hoursOf reads "12.5", "12.5 h" or "+2".
func hoursOf(s string) (float64, error) {
	text := strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(strings.ReplaceAll(s, ",", "."), "+"), "h"))
	h, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no number of hours: want it as 12.5", s)
	}
	return h, nil
}

func newRegularCommand() *cobra.Command {
	var every string
	var never bool
	cmd := withReason(verbCommand("regular ENGINE WORK", "Work that comes round: every so many hours, or, without --every, that it is done", bench.DoRegular, cobra.ExactArgs(2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			v.Life = &bench.Life{Engine: args[0], What: args[1]}
			if never {
				v.Choice = bench.WorkNever
			}
			if every != "" {
				v.Life.Due, err = hoursOf(every)
			}
			return err
		}))
	cmd.Flags().StringVar(&every, "every", "", "how often, in hours of running")
	cmd.Flags().BoolVar(&never, "never", false, "it does not come round any more")
	return cmd
}

func newPartCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "part", Short: "Parts by their marks: which engine they are in, how long they have run"}
	cmd.AddCommand(newPartFitCommand(), newPartOutCommand(), newPartListCommand())
	return cmd
}

func newPartFitCommand() *cobra.Command {
	var engine, what, life, ran string
	cmd := withReason(verbCommand("fit MARK", "A part that has a mark goes into an engine", bench.DoFit, cobra.ExactArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			v.Life = &bench.Life{Engine: engine, Mark: args[0], What: what}
			if life != "" {
				if v.Life.Due, err = hoursOf(life); err != nil {
					return err
				}
			}
			if ran != "" {
				v.Life.Ran, err = hoursOf(ran)
			}
			return err
		}))
	cmd.Flags().StringVar(&engine, "engine", "", "which engine")
	cmd.Flags().StringVar(&what, "what", "", "what it is, as \"left piston\"")
	cmd.Flags().StringVar(&life, "life", "", "how many hours it is good for")
	cmd.Flags().StringVar(&ran, "ran", "", "how many hours it has run before")
	return cmd
}

func newPartOutCommand() *cobra.Command {
	return withReason(verbCommand("out MARK", "A part comes out of its engine", bench.DoPartOut, cobra.ExactArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			v.Life = &bench.Life{Mark: args[0]}
			return nil
		}))
}

// partLine is a part's time in one engine.
type partLine struct {
	Mark   string  `json:"mark"`
	What   string  `json:"what"`
	Engine string  `json:"engine"`
	From   float64 `json:"from_hours"`
	To     float64 `json:"to_hours"`
	In     string  `json:"in"`
	Out    string  `json:"out,omitempty"`
	InJob  string  `json:"in_job,omitempty"`
	OutJob string  `json:"out_job,omitempty"`
	Ran    float64 `json:"ran_hours"` // in all
	Life   float64 `json:"life_hours,omitempty"`
}

func newPartListCommand() *cobra.Command {
	return &cobra.Command{Use: "list [MARK]", Short: "List the parts and the engines they ran in; with a mark that part alone", Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			lines := []partLine{}
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				l, err := s.Load(ctx, name)
				for _, p := range l.State.Fitted {
					if len(args) == 0 || args[0] == p.Mark {
						lines = append(lines, partLines(l.State, p)...)
					}
				}
				if err == nil && len(args) == 1 && len(lines) == 0 {
					return fmt.Errorf("no part %s was ever fitted", args[0])
				}
				return err
			})
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), lines)
			}
			rows := [][]string{{"MARK", "WHAT", "ENGINE", "FITTED", "OUT", "RAN THERE", "IN ALL", "LIFE"}}
			for _, l := range lines {
				life := ""
				if l.Life > 0 {
					life = bench.HourWords(l.Life)
				}
				rows = append(rows, []string{l.Mark, l.What, l.Engine, l.In, l.Out, bench.HourWords(l.To - l.From), bench.HourWords(l.Ran), life})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}

func partLines(s bench.State, p bench.PartLife) []partLine {
	var out []partLine
	for _, st := range p.Stints {
		l := partLine{Mark: p.Mark, What: p.What, Engine: st.Engine, From: st.From, To: st.To, In: day(st.In.At), InJob: st.InJob, OutJob: st.OutJob, Ran: p.Ran(s), Life: p.Life}
		if st.Out != nil {
			l.Out = day(st.Out.At)
		} else {
			l.To = max(st.From, s.LifeOf(st.Engine).Hours)
		}
		out = append(out, l)
	}
	return out
}

func day(at int64) string { return time.UnixMicro(at).Format("2006-01-02") }
