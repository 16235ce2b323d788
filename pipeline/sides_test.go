package pipeline_test

import (
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

const sidedRuns = `title = "T"
version = 1
cylinders = ["left", "right"]
[[step]]
id = "bores"
title = "Bores"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "bore" }
setup = "0.001 mm"
[[step.point]]
for = "cylinder"
id = "{cylinder}.top"
[step.compute]
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.top"] }
limits = { mean = { upper = "75 mm", source = "a test's" } }
[[step]]
id = "pistons"
title = "Pistons"
do = "Read it."
phase = "dry"
kind = "measure"
needs = ["NEEDS"]
capture = { mode = "press", role = "micrometer" }
setup = "0.001 mm"
[[step.point]]
for = "cylinder"
id = "{cylinder}.piston"
[step.compute]
method = "running-fit"
per = "cylinder"
inputs = { hole = "@figure:bores.{cylinder}.mean", shaft = "@reading:{cylinder}.piston" }
`

// What one cylinder gave is used by that cylinder before the pass is closed, and by nothing else.
func TestASideUsesWhatItsOwnSideGave(t *testing.T) {
	for needs, want := range map[string]bool{"bores/{cylinder}": true, "bores": false} {
		s := newShopOf(t, strings.Replace(sidedRuns, "NEEDS", needs, 1))
		read := func(step, point, text string) {
			v := s.length(text)
			s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v},
				Place: bench.Place{Build: "17", Step: step, Pass: 1, Point: point, Seating: 1}})
		}
		s.at(bench.StepEntered, "bores", 0)
		s.at(bench.PassOpened, "bores", 1)
		read("bores", "left.top", "72.050 mm")
		s.at(bench.StepEntered, "pistons", 0)
		s.at(bench.PassOpened, "pistons", 1)
		read("pistons", "left.piston", "72.000 mm")
		r, ok := s.results.Get(bench.Slot{Build: "17", Step: "pistons", Pass: 1, Key: "left"})
		if ok != want {
			t.Fatalf("needs %q: a result of the left piston %v, want %v", needs, ok, want)
		}
		if !want {
			continue
		}
		if f, _ := r.Figure("clearance"); f.Value == nil || *f.Value < 0.0499 || *f.Value > 0.0501 {
			t.Errorf("left clearance %v, want 0.050 mm", f.Value)
		}
		// The right one is read, the pass is closed: the left clearance stands, and now the right has one too.
		read("bores", "right.top", "72.060 mm")
		s.at(bench.PassClosed, "bores", 1)
		read("pistons", "right.piston", "72.000 mm")
		s.at(bench.PassClosed, "pistons", 1)
		b, _ := s.state.Build("17")
		step, _ := b.Plan.Step("pistons")
		if v, whole := s.results.Verdict(b, step, 1); !whole || v != calc.NoVerdict {
			t.Errorf("at the end: %q, whole %v", v, whole)
		}
	}
}
