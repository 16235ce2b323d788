package pipeline_test

import (
	"math"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

const twoSides = `title = "T"
version = 1
cylinders = ["left", "right"]
[engine.plate]
value = "2.000 mm"
u = "0.010 mm"
source = "measured"
[engine.apart]
value = "1 mm"
source = "measured"
[[step]]
id = "fit"
title = "Fit"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
datum = { do = "Set it on the standard; zero it.", size = "20.000 mm", close = true, drift = "0.050 mm" }
setup = "0.004 mm"
[[step.point]]
for = "cylinder"
id = "{cylinder}.hole"
[step.compute]
method = "running-fit"
per = "cylinder"
inputs = { hole = "@reading:{cylinder}.hole", shaft = "@engine.plate" }
[step.compute.spread]
clearance = { upper = "@engine.apart", told = "Swap them." }
`

// sides reads both holes against one zero and closes the pass where the datum reads 0.012 mm more.
func sides(t *testing.T, left, right string) *shop {
	t.Helper()
	s := newShopOf(t, twoSides)
	s.at(bench.StepEntered, "fit", 0)
	place := bench.Place{Build: "17", Step: "fit", Pass: 1}
	zero := s.write(bench.Entry{Kind: bench.ZeroSet, Place: place, Zero: &bench.Zero{Gauge: "dial-1", Raw: s.length("0.000 mm"), Shows: s.length("20.000 mm")}})
	s.at(bench.PassOpened, "fit", 1)
	for _, r := range [][2]string{{"left.hole", left}, {"right.hole", right}} {
		at, v := place, s.length(r[1])
		at.Point, at.Seating = r[0], 1
		s.write(bench.Entry{Kind: bench.ReadingTaken, Place: at, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v, Zero: zero.ID}})
	}
	s.write(bench.Entry{Kind: bench.PassClosed, Place: place, Drift: &bench.Drift{By: s.length("0.012 mm"), Allowed: s.length("0.050 mm")}})
	return s
}

// What two sides have in common falls out of their difference (JCGM 100, F.1.2.3): the zero's count, the stated plate, the middle of
// what the zero walked, and of the gauge's calibration all but the scale's part. Left are, twice, a count/√12, the set-up and the
// walk's D/√12 (4.3.7); computed by hand.
func TestSidesThatShareTheirErrors(t *testing.T) {
	const cal, count, setup, plate = 0.00254, 0.001 / 3.4641016, 0.004, 0.010 // standard uncertainties, mm
	unseen := math.Sqrt2 * count
	walk := math.Hypot(0.012, unseen)
	own := count*count + setup*setup + walk*walk/12
	for _, c := range []struct{ left, right string }{{"22.050 mm", "22.040 mm"}, {"24.000 mm", "20.000 mm"}} {
		s := sides(t, c.left, c.right)
		side, _ := s.result("fit", 1, "left").Figure("clearance")
		if want := math.Sqrt(own + count*count + cal*cal + plate*plate + walk*walk/4); math.Abs(side.U/side.K-want) > 1e-6 {
			t.Errorf("%s: u of a side is %.6f mm, want %.6f", c.left, side.U/side.K, want)
		}
		a, b := s.length(c.left).Float(), s.length(c.right).Float()
		// Two errors, u·cos θ and u·sin θ, tan θ/2 = x/(2·greatest reading): the chord between both.
		angle := 2 * (math.Atan(a/(2*a)) - math.Atan(b/(2*a)))
		scale := 2 * cal * math.Sin(angle/2)
		if near := cal * (a - b) / a; math.Abs(scale/near-1) > 0.2 {
			t.Fatalf("the scale's part is %.6f mm, want about u·d/scale, %.6f", scale, near)
		}
		apart, _ := s.result("fit", 1, "clearance-spread").Figure("range")
		if want := math.Sqrt(2*own + scale*scale); math.Abs(apart.U/apart.K-want) > 1e-6 {
			t.Errorf("%s and %s: u of the difference is %.6f mm, want %.6f", c.left, c.right, apart.U/apart.K, want)
		}
	}
}

// A figure that nothing takes does not say what it has in common with others, and one that is taken says where from.
func TestOnlyWhatIsTakenSaysWhatItShares(t *testing.T) {
	r := sides(t, "22.050 mm", "22.040 mm").result("fit", 1, "left")
	if got := strings.Join(r.Request.Common, " "); got != "clearance" {
		t.Errorf("asked for what is in common of %q, want of the clearance", got)
	}
	names := map[string]bool{}
	for _, f := range r.Figures {
		if f.Name != "clearance" && f.Common != nil {
			t.Errorf("%s says what it shares: %v", f.Name, f.Common)
		}
		for _, c := range f.Common {
			names[c.Name] = true
		}
	}
	for _, want := range []string{"resolution at the zero", "calibration of dial-1", "calibration of dial-1 along its scale", "stated for plate", "drift of the zero in the pass"} {
		if !names[want] {
			t.Errorf("the clearance shares nothing of %q: %v", want, names)
		}
	}
	apart := sides(t, "22.050 mm", "22.040 mm").result("fit", 1, "clearance-spread")
	if v := apart.Verdict; v != calc.VerdictIn {
		t.Errorf("the sides are %s, want in", v)
	}
}

// What the plan states of a value is one error for all that a step computes with it: of two lobes traced against one top the
// difference is free of it.
func TestAConstantIsOneErrorInAStep(t *testing.T) {
	text := strings.ReplaceAll(twoSides, `shaft = "@engine.plate"`, `shaft = { value = "2 mm", u = "0.010 mm" }`)
	s := newShopOf(t, text)
	s.at(bench.StepEntered, "fit", 0)
	s.at(bench.PassOpened, "fit", 1)
	for _, point := range []string{"left.hole", "right.hole"} {
		v := s.length("22.050 mm")
		s.write(bench.Entry{Kind: bench.ReadingTaken, Place: bench.Place{Build: "17", Step: "fit", Pass: 1, Point: point, Seating: 1}, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v}})
	}
	s.at(bench.PassClosed, "fit", 1)
	side, _ := s.result("fit", 1, "left").Figure("clearance")
	apart, _ := s.result("fit", 1, "clearance-spread").Figure("range")
	if side.U/side.K < 0.010 || apart.U/apart.K > 0.006 {
		t.Errorf("u is %.4f mm of a side, over the 0.010 stated, and %.4f of the difference, which is free of it", side.U/side.K, apart.U/apart.K)
	}
}
