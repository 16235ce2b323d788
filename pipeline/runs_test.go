package pipeline_test

import (
	"math"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

const severalRuns = `title = "T"
version = 1
cylinders = ["left", "right"]
[engine.least]
value = "0.01 mm"
source = "measured"
[engine.most]
value = "0.03 mm"
source = "measured"
[engine.apart]
value = "0.005 mm"
source = "measured"
[engine.stroke]
value = "80 mm"
source = "measured"
[[step]]
id = "fit"
title = "Fit"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
setup = "0.0001 mm"
[[step.point]]
for = "cylinder"
id = "{cylinder}.hole"
[[step.point]]
for = "cylinder"
id = "{cylinder}.shaft"
[step.compute]
method = "running-fit"
per = "cylinder"
inputs = { hole = "@reading:{cylinder}.hole", shaft = "@reading:{cylinder}.shaft" }
[step.compute.limits]
clearance = { lower = "@engine.least", upper = "@engine.most", from_pass = 2 }
[step.compute.spread]
clearance = { upper = "@engine.apart", told = "Swap the blocks." }
[[step.also]]
name = "place"
before = true
method = "piston-position"
inputs = { stroke = "@engine.stroke", rod = "150 mm", angle = "20 deg" }
`

// One step computes for each side, over both, and before its first reading; a limit that binds from the second pass on
// leaves the first without a verdict of its own.
func TestOneStepComputesSeveralThings(t *testing.T) {
	s := newShopOf(t, severalRuns)
	s.at(bench.StepEntered, "fit", 0)
	before, ok := s.results.Get(bench.Slot{Build: "17", Step: "fit", Pass: 0, Key: "place"})
	if !ok || before.Provisional || before.Refused != "" {
		t.Fatalf("nothing is told before: %v %q", ok, before.Refused)
	}
	get := func(pass int, key string) bench.Result {
		t.Helper()
		r, ok := s.results.Get(bench.Slot{Build: "17", Step: "fit", Pass: pass, Key: key})
		if !ok {
			t.Fatalf("pass %d has no result %q", pass, key)
		}
		return r
	}
	s.pass(1, [2]string{"25.050 mm", "25.060 mm"})
	if left, both := get(1, "left"), get(1, "clearance-spread"); left.Verdict != calc.NoVerdict || both.Verdict != calc.VerdictOut {
		t.Errorf("pass 1: left %q, spread %q; want no verdict and out", left.Verdict, both.Verdict)
	}
	apart := get(1, "clearance-spread")
	f, _ := apart.Figure("range")
	if math.Abs(*f.Value-0.01) > 1e-9 || f.Kind != "length" {
		t.Errorf("the sides are %g %s apart, want 0.01 mm", *f.Value, f.Kind)
	}
	if orders := apart.Orders(); len(orders) != 1 || orders[0].Words.Inch != "Swap the blocks." {
		t.Errorf("what is told where the sides lie too far apart: %+v", orders)
	}
	b, _ := s.state.Build("17")
	step, _ := b.Plan.Step("fit")
	if v, whole := s.results.Verdict(b, step, 1); v != calc.VerdictOut || !whole {
		t.Errorf("the pass is %q, whole %v: two sides that are too far apart are out", v, whole)
	}
	s.pass(2, [2]string{"25.020 mm", "25.022 mm"})
	if apart = get(2, "clearance-spread"); len(apart.Orders()) != 0 {
		t.Errorf("told though it is in: %+v", apart.Orders())
	}
	if left, both := get(2, "left"), get(2, "clearance-spread"); left.Verdict != calc.VerdictIn || both.Verdict != calc.VerdictIn {
		t.Errorf("pass 2: left %q, spread %q; want both in", left.Verdict, both.Verdict)
	}
}

// pass reads both holes and shafts of 25 mm.
func (s *shop) pass(n int, holes [2]string) {
	s.at(bench.PassOpened, "fit", n)
	for i, c := range []string{"left", "right"} {
		for point, text := range map[string]string{"hole": holes[i], "shaft": "25.000 mm"} {
			v := s.length(text)
			s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v},
				Place: bench.Place{Build: "17", Step: "fit", Pass: n, Point: c + "." + point, Seating: 1}})
		}
	}
	s.at(bench.PassClosed, "fit", n)
}

// One input may be the sum of a reading and engine data; its uncertainty is that of both.
func TestASumOfReferences(t *testing.T) {
	text := `title = "T"
version = 1
cylinders = ["left"]
[engine.step]
value = "1.5 mm"
u = "0.004 mm"
source = "measured"
[[step]]
id = "s"
title = "S"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
setup = "0.003 mm"
[[step.point]]
id = "a"
[step.compute]
method = "running-fit"
inputs = { hole = { sum = ["@reading:a", "@engine.step"] }, shaft = "10 mm" }
`
	s := newShopOf(t, text)
	s.at(bench.PassOpened, "s", 1)
	v := s.length("9.000 mm")
	s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &bench.Reading{Gauge: "none", Raw: v, Value: v}, Place: bench.Place{Build: "17", Step: "s", Pass: 1, Point: "a"}})
	r, _ := s.results.Get(bench.Slot{Build: "17", Step: "s", Pass: 1})
	f, ok := r.Figure("clearance")
	// √(3² + 4²) = 5 µm, and 1 µm/√12 of the display (JCGM 100, 5.1.2).
	if want := math.Hypot(0.005, 0.001/math.Sqrt(12)); !ok || math.Abs(*f.Value-0.5) > 1e-9 || math.Abs(f.U/f.K-want) > 1e-6 {
		t.Errorf("clearance %v, refused %q", f, r.Refused)
	}
}

// A reading that a computation takes in two places errs by the same in both.
func TestAReadingUsedTwiceErrsByTheSame(t *testing.T) {
	text := `title = "T"
version = 1
cylinders = ["left"]
[[step]]
id = "s"
title = "S"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
setup = "0.003 mm"
[[step.point]]
id = "a"
[step.compute]
method = "statistics"
inputs = { values = ["@reading:a", "@reading:a"] }
`
	s := newShopOf(t, text)
	s.at(bench.PassOpened, "s", 1)
	v := s.length("9.000 mm")
	s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &bench.Reading{Gauge: "none", Raw: v, Value: v}, Place: bench.Place{Build: "17", Step: "s", Pass: 1, Point: "a"}})
	r, _ := s.results.Get(bench.Slot{Build: "17", Step: "s", Pass: 1})
	f, ok := r.Figure("least")
	if want := math.Hypot(0.003, 0.001/math.Sqrt(12)); !ok || math.Abs(f.U/f.K-want) > 1e-6 {
		t.Errorf("u of the least of one reading taken twice is %g, want %g (refused %q)", f.U/f.K, want, r.Refused)
	}
}
