package pipeline_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/capture/plan/example"
)

// The plans that ship, worked through from the first step to the last on an engine that is as it should be, in every
// shape that their variants and groups give them: every step gives its results, none is refused, and every verdict is in.
func TestShippedPlansFromFirstStepToLast(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		p, err := plan.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for i, choices := range p.Shapes() {
			if testing.Short() && i%5 != 0 {
				continue
			}
			t.Run(name+shapeName(choices), func(t *testing.T) {
				text, err := plan.Shape(name, p.Text, choices)
				if err != nil {
					t.Fatal(err)
				}
				newShopOf(t, string(text)).workAll()
			})
		}
	}
}

func shapeName(choices map[string]string) string {
	name := ""
	for _, k := range slices.Sorted(maps.Keys(choices)) {
		name += "/" + k + "=" + choices[k]
	}
	return name
}

// workAll works through every step and looks at what it gives.
func (s *shop) workAll() {
	s.t.Helper()
	b, _ := s.state.Build("17")
	for _, step := range b.Plan.Steps {
		passes := s.workThrough(b.Plan, step)
		for pass := min(passes, 1); pass <= passes; pass++ {
			for _, run := range b.Plan.RunsAt(step, pass) {
				s.lookAt(step, pass, run, pass == passes)
			}
		}
		for _, run := range b.Plan.RunsBefore(step) {
			s.lookAt(step, 0, run, false)
		}
		b, _ = s.state.Build("17")
		if got := bench.ProgressOf(b, step, s.results); step.Kind == plan.Measure && len(step.Confirms)+len(step.Items)+len(step.Out) == 0 && got != bench.Done {
			s.t.Errorf("%s is %q", step.ID, got)
		}
	}
}

// lookAt holds one result: there, not refused, and in where it has limits.
func (s *shop) lookAt(step plan.Step, pass int, run plan.Run, judged bool) {
	s.t.Helper()
	r, ok := s.results.Get(bench.Slot{Build: "17", Step: step.ID, Pass: pass, Key: run.Key})
	switch {
	case !ok:
		s.t.Errorf("%s %q gives no result in pass %d", step.ID, run.Key, pass)
	case r.Refused != "" || r.Provisional:
		s.t.Errorf("%s %q: provisional %v, refused %q", step.ID, run.Key, r.Provisional, r.Refused)
	case judged && len(run.Compute.Limits) > 0 && r.Verdict != calc.VerdictIn:
		s.t.Errorf("%s %q: verdict %q: %s", step.ID, run.Key, r.Verdict, figuresOf(r))
	}
}

// figuresOf writes the figures that are not in.
func figuresOf(r bench.Result) string {
	var out []string
	for _, f := range r.Figures {
		if f.Limit != nil && f.Verdict != calc.VerdictIn {
			out = append(out, fmt.Sprintf("%s %s ± %s", f.Name, f.Shown.MM, f.ShownU.MM))
		}
	}
	return strings.Join(out, ", ")
}

// workThrough takes every pass of a step that its points ask for and gives the last one's number, 0 for a step without
// points.
func (s *shop) workThrough(p *plan.Plan, step plan.Step) int {
	s.t.Helper()
	s.at(bench.StepEntered, step.ID, 0)
	passes := step.Passes()
	for n := 1; n <= passes; n++ {
		s.at(bench.PassOpened, step.ID, n)
		for seating := 1; seating <= step.Seatings; seating++ {
			for _, pt := range step.Wanted(n) {
				if pt.Once && n > 1 {
					continue
				}
				s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: s.trueReading(p, step, pt),
					Place: bench.Place{Build: "17", Step: step.ID, Pass: n, Point: pt.ID, Seating: seating}})
			}
		}
		s.at(bench.PassClosed, step.ID, n)
	}
	if len(step.Points) == 0 {
		return 0
	}
	return passes
}

// trueReading is what an ideal gauge reads, to a tenth of a micrometre or less; a trace has its samples.
func (s *shop) trueReading(p *plan.Plan, step plan.Step, pt plan.Point) *bench.Reading {
	s.t.Helper()
	r := &bench.Reading{Gauge: "dial-1", Zero: "z"}
	x, ok := example.Reading(p, step, pt)
	kind := step.KindOf(pt.ID)
	if step.ModeOf(pt.ID) == plan.Trace {
		angles, values := example.Trace(step.ID, pt.ID)
		r.Samples = &bench.Samples{Unit: "mm"}
		for i, a := range angles {
			r.Samples.Angle = append(r.Samples.Angle, int64(math.Round(a*1000)))
			r.Samples.Value = append(r.Samples.Value, int64(math.Round(values[i]*quantity.PerMillimetre)))
		}
		ok = len(angles) > 0
	}
	if !ok {
		s.t.Fatalf("the example engine has no reading for %s/%s", step.ID, pt.ID)
	}
	v, err := quantity.ParseAs(kind, strings.TrimSpace(fmt.Sprintf("%.5f %s", x, quantity.Base(kind).Code)))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Raw, r.Value = v, v
	return r
}
