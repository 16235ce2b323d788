package pipeline_test

import (
	"fmt"
	"math"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/capture/plan/example"
)

// The plans that ship, worked through from the first step to the last on an engine that is as it should be: every step
// gives its result, none is refused, and every verdict is in.
func TestShippedPlansFromFirstStepToLast(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			s := newShop(t, name)
			b, _ := s.state.Build("17")
			for _, step := range b.Plan.Steps {
				pass := s.workThrough(b.Plan, step)
				for _, key := range b.Plan.Keys(step) {
					r, ok := s.results.Get(bench.Slot{Build: "17", Step: step.ID, Pass: pass, Key: key})
					if !ok {
						t.Errorf("%s %q gives no result", step.ID, key)
						continue
					}
					if r.Refused != "" || r.Provisional || len(step.Compute.Limits) > 0 && r.Verdict != calc.VerdictIn {
						t.Errorf("%s %q: verdict %q, provisional %v, refused %q", step.ID, key, r.Verdict, r.Provisional, r.Refused)
					}
				}
			}
		})
	}
}

// workThrough takes every pass of a step that its points ask for and gives the last one's number, 0 for a step without
// points.
func (s *shop) workThrough(p *plan.Plan, step plan.Step) int {
	s.t.Helper()
	s.at(bench.StepEntered, step.ID, 0)
	passes := 1
	for _, pt := range step.Points {
		passes = max(passes, pt.FromPass)
	}
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
	mode := step.Capture.Mode
	if pt.Mode != "" {
		mode = pt.Mode
	}
	x, ok := example.Reading(p, step, pt)
	if mode == plan.Trace {
		angles, values := example.Trace(step.ID)
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
	v, err := quantity.ParseAs(step.Capture.Kind, fmt.Sprintf("%.5f %s", x, quantity.Base(step.Capture.Kind).Code))
	if err != nil {
		s.t.Fatal(err)
	}
	r.Raw, r.Value = v, v
	return r
}
