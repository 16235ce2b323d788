package pipeline_test

import (
	"math"
	"slices"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// A sweep is one set-up: what its samples have in common is shared between them, the zero walks evenly from the first to the
// last, and its angles are not known better than the angle gauge and the wheel's setting.
func TestSamplesOfASweepShareTheirUncertainty(t *testing.T) {
	s := newShopOf(t, kept(t, "pushrod-twin-96-steps"))
	deg := func(text string) quantity.Value { return s.length(text) }
	s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "encoder-1", Role: "angle", Known: bench.KnownPath,
		Resolution: deg("0.01 deg"), Calibration: deg("0.05 deg"), K: 2}})
	const step = "cam-inlet-left"
	s.at(bench.StepEntered, step, 0)
	zero := s.write(bench.Entry{Kind: bench.ZeroSet, Place: bench.Place{Build: "17", Step: step, Pass: 1},
		Zero: &bench.Zero{Gauge: "dial-1", Raw: s.length("0.001 mm"), Shows: s.length("0.000 mm")}})
	s.at(bench.PassOpened, step, 1)
	samples := &bench.Samples{Unit: "mm", Places: 3}
	for d := 0; d < 720; d += 5 {
		lift := 0.0
		if u := float64(d-105) / 150; u*u < 1 {
			lift = 8 * (1 - u*u) * (1 - u*u)
		}
		samples.Angle = append(samples.Angle, int64(d)*1000)
		samples.Value = append(samples.Value, int64(lift*quantity.PerMillimetre))
	}
	s.write(bench.Entry{Kind: bench.ReadingTaken, Place: bench.Place{Build: "17", Step: step, Pass: 1, Point: "lift", Seating: 1},
		Reading: &bench.Reading{Gauge: "dial-1", Mode: "trace", Raw: s.length("0.001 mm"), Value: s.length("0.000 mm"), Zero: zero.ID, Samples: samples}})
	s.write(bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: "17", Step: step, Pass: 1},
		Drift: &bench.Drift{By: s.length("0.009 mm"), Allowed: s.length("0.020 mm")}})
	r := s.result(step, 1, "")
	lifts, angles := r.Request.Inputs["inlet_lift"].List, r.Request.Inputs["crank_angle"].List
	shared := func(n calc.Num, name string) string {
		for _, c := range n.Us {
			if c.Name == name {
				return c.Shared
			}
		}
		t.Errorf("no %q among %v", name, n.Us)
		return ""
	}
	first, last := lifts[0], lifts[len(lifts)-1]
	for _, name := range []string{"set-up repeatability, stated", "calibration of dial-1"} {
		if a, b := shared(first, name), shared(last, name); a == "" || a != b {
			t.Errorf("%s: shared by %q early and %q late, want one for all", name, a, b)
		}
	}
	if got := shared(first, "resolution"); got != "" {
		t.Errorf("the display's counts are shared by %q, want each its own", got)
	}
	const drift = "drift of the zero in the pass"
	if a, b := shared(first, drift), shared(last, drift); a == "" || a != b {
		t.Errorf("drift: shared by %q early and %q late, want one for all", a, b)
	}
	if a, b := driftOf(t, first), driftOf(t, last); a > b/10 {
		t.Errorf("drift: %g mm early and %g mm late, want it to grow over the sweep", a, b)
	}
	for _, name := range []string{"calibration of encoder-1", "set-up of the angle, stated"} {
		if got := shared(angles[3], name); got == "" {
			t.Errorf("%s of the angle is not shared by the trace", name)
		}
	}
	// The wheel's setting alone is 0.1 degrees, U twice that: no centre is known better.
	if f, ok := r.Figure("inlet_centre"); !ok || f.U < 0.2 || f.U > 0.3 {
		t.Errorf("inlet centre: U is %.3f deg, want a little over 0.2", f.U)
	}
}

// A datum that shows nought at the end tells of the zero's walk what two readings of a display of one count tell, and as
// well as the gauge repeats: a count/√12 each (JCGM 100, F.2.2.1), the repeatability each. By the last sample all of that may
// have come, and of what the datum showed a rectangle from 0 (JCGM 100, 4.3.7). Counts of 0.001 mm and a repeatability of
// 0.002 mm: √(2·(0.001²/12 + 0.002²)) = 0.002858 mm; with 0.009 mm shown √(0.009²/3 + 0.002858²) = 0.005930 mm.
func TestADatumThatShowsNoughtHasNotStoodStill(t *testing.T) {
	for _, c := range []struct {
		by   string
		want float64 // mm
	}{{"0.000 mm", 0.0028577}, {"0.009 mm", 0.0059301}, {"-0.009 mm", 0.0059301}} {
		s := newShopOf(t, kept(t, "pushrod-twin-96-steps"))
		s.write(bench.Entry{Kind: bench.GaugeChecked, Check: &bench.Check{Gauge: "dial-1", Study: true, U: 0.002}})
		const step = "cam-inlet-left"
		s.at(bench.StepEntered, step, 0)
		zero := s.write(bench.Entry{Kind: bench.ZeroSet, Place: bench.Place{Build: "17", Step: step, Pass: 1},
			Zero: &bench.Zero{Gauge: "dial-1", Raw: s.length("0.001 mm"), Shows: s.length("0.000 mm")}})
		s.at(bench.PassOpened, step, 1)
		samples := &bench.Samples{Unit: "mm", Places: 3}
		for d := 0; d < 720; d += 5 {
			lift := 0.0
			if u := float64(d-105) / 150; u*u < 1 {
				lift = 8 * (1 - u*u) * (1 - u*u)
			}
			samples.Angle = append(samples.Angle, int64(d)*1000)
			samples.Value = append(samples.Value, int64(lift*quantity.PerMillimetre))
		}
		s.write(bench.Entry{Kind: bench.ReadingTaken, Place: bench.Place{Build: "17", Step: step, Pass: 1, Point: "lift", Seating: 1},
			Reading: &bench.Reading{Gauge: "dial-1", Mode: "trace", Raw: s.length("0.001 mm"), Value: s.length("0.000 mm"), Zero: zero.ID, Samples: samples}})
		s.write(bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: "17", Step: step, Pass: 1},
			Drift: &bench.Drift{By: s.length(c.by), Allowed: s.length("0.020 mm")}})
		list := s.result(step, 1, "").Request.Inputs["inlet_lift"].List
		for at, want := range map[int]float64{0: c.want / 16, len(list) / 2: c.want * 9 / 16, len(list) - 1: c.want} {
			if got := driftOf(t, list[at]); math.Abs(got-want) > 1e-6 {
				t.Errorf("closed at %s: drift of sample %d is %.6f mm, want %.6f", c.by, at, got, want)
			}
		}
	}
}

// driftOf is what a number is uncertain by because the zero walked.
func driftOf(t *testing.T, n calc.Num) float64 {
	t.Helper()
	at := slices.IndexFunc(n.Us, func(c calc.Component) bool { return c.Name == "drift of the zero in the pass" })
	if at < 0 {
		t.Fatalf("no drift among %+v", n.Us)
	}
	return n.Us[at].U
}
