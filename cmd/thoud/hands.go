package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// handLine is how well one kind of step is seated with one gauge.
type handLine struct {
	Sort     string   `json:"kind_of_step"`
	Gauge    string   `json:"gauge"`
	Scatter  string   `json:"scatter"` // standard deviation
	Least    string   `json:"least"`   // it lies between these, 95 %
	Most     string   `json:"most"`
	Dof      float64  `json:"degrees_of_freedom"`
	Seatings int      `json:"seatings"`
	Jobs     []string `json:"jobs"`
}

// handsAll is what "hands --json" writes.
type handsAll struct {
	Hands  []handLine `json:"hands"`
	Offers []string   `json:"offers,omitempty"`
	Today  []string   `json:"today,omitempty"` // what scatters beyond chance
}

func newHandsCommand() *cobra.Command {
	var take string
	cmd := &cobra.Command{Use: "hands", Short: "How well you seat each kind of step with each gauge, from your own repeated seatings", Args: cobra.NoArgs,
		Long: `The repeated seatings of all builds are pooled by kind of step and gauge. For the build on the bench it is offered in place of
what the plan states; nothing is taken until --take says so, and it is kept with its degrees of freedom as a change of this build.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			var all handsAll
			var chosen *bench.HandOffer
			err := withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				builds, here, err := seatings(ctx, s, name)
				if err != nil {
					return err
				}
				hands := bench.HandsOf(builds)
				for _, h := range hands {
					all.Hands = append(all.Hands, lineOf(h))
				}
				if here == nil {
					return nil
				}
				for _, o := range bench.HandOffers(here, hands) {
					if o.Step.ID == take {
						chosen = &o
					}
					if !o.Taken {
						all.Offers = append(all.Offers, o.Words())
					}
				}
				all.Today = bench.ScatterToday(here, builds)
				return nil
			})
			switch {
			case err != nil:
				return err
			case take != "" && chosen == nil:
				return fmt.Errorf("nothing is offered for step %q: it wants a step of the build on the bench that is seated once, and enough seatings of its kind", take)
			case chosen != nil:
				o := chosen.Override()
				return ask(cmd, bench.Verb{Name: bench.DoOverride, Override: &o, Reason: "own hands: " + strings.Join(chosen.Hand.Jobs, ", ")})
			case wantJSON(cmd):
				return printJSON(cmd.OutOrStdout(), all)
			}
			printHands(cmd, all)
			return nil
		}}
	cmd.Flags().StringVar(&take, "take", "", "take your own hands for this step, in place of what is stated")
	addAskFlags(cmd)
	return cmd
}

// seatings gives the repeated seatings of every build there is, and the build on the bench; nil where none is.
func seatings(ctx context.Context, s *store.Store, name string) (all []bench.Seated, here *bench.Build, err error) {
	job, err := s.Here(ctx, name)
	if err != nil {
		return nil, nil, err
	}
	if all, err = service.Seated(ctx, s, name); err != nil || job == "" {
		return all, nil, err
	}
	here, _, err = s.Build(ctx, name, job, store.Newest)
	return all, here, err
}

func lineOf(h bench.Hand) handLine {
	s, least, most := h.Shown()
	return handLine{Sort: h.Sort, Gauge: h.Gauge, Scatter: s, Least: least, Most: most, Dof: h.Scatter.Dof, Seatings: h.Seatings, Jobs: h.Jobs}
}

func printHands(cmd *cobra.Command, all handsAll) {
	w := cmd.OutOrStdout()
	if len(all.Hands) == 0 {
		fmt.Fprintln(w, "no step was seated several times yet: a step that is read three times, seated anew each time, shows how well you seat it")
	} else {
		rows := [][]string{{"KIND OF STEP", "GAUGE", "SCATTER", "BETWEEN (95 %)", "DEGREES OF FREEDOM", "JOBS"}}
		for _, h := range all.Hands {
			rows = append(rows, []string{h.Sort, h.Gauge, h.Scatter, h.Least + " and " + h.Most, fmt.Sprintf("%.0f", h.Dof), strings.Join(h.Jobs, ", ")})
		}
		table(w, rows)
	}
	for _, o := range append(all.Today, all.Offers...) {
		fmt.Fprintln(w, o)
	}
}
