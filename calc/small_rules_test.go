package calc

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The end of the turn is its beginning: an angle a hair under zero is 0, not 360. Arithmetic.
func TestWrapNeverGivesThePeriod(t *testing.T) {
	for _, x := range []float64{-1e-20, -1e-17, -5e-324, math.Nextafter(0, -1), -720 - 1e-15, 359.99999999999997, 360, 720, -360} {
		for _, period := range []float64{360, 720} {
			if got := wrap(x, period); !(got >= 0 && got < period) {
				t.Errorf("wrap(%g, %g) = %g, want 0 or more and less than the period", x, period, got)
			}
		}
	}
}

// Computed independently, no published example: of the shims 0.32 and 0.10 the nearer to 0.25 would leave −0.02 mm.
func TestNoShimsLeaveNegativeFloat(t *testing.T) {
	in := given{"gap": 0.30, "wanted": 0.05, "shims": []float64{0.32, 0.10}}
	out := figuresOf(t, "shim-stack", in)
	if diff := cmp.Diff([]float64{0.10}, out.lists["stack"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "resulting", 0.20, 1e-12)
	ends := figuresOf(t, "end-float", given{"push": 0.30, "pull": 0.0, "wanted": 0.05, "shims": []float64{0.32, 0.10}})
	figureNear(t, ends, "resulting", 0.20, 1e-12)
	// float_min is the floor where it is given: 0.15 leaves the same, and 0.10 of gap has none to give.
	figureNear(t, figuresOf(t, "shim-stack", in.with("float_min", 0.05)), "resulting", 0.20, 1e-12)
	_, err := outOf("shim-stack", in.with("gap", 0.10).with("float_min", 0.12).with("wanted", 0.2))
	if err == nil || !strings.Contains(err.Error(), "0.0200 mm too small") {
		t.Errorf("a gap under the least float: %v, want a refusal that says by how much", err)
	}
}

// A float that is left but smaller than the uncertainty of the gap may be none: common practice.
func TestShimsMayBind(t *testing.T) {
	gap := Num{X: 0.30, Us: []Component{{Name: "reading", U: 0.01}}}
	in := given{"gap": gap, "wanted": 0.02, "shims": []float64{0.285}}
	if out := figuresOf(t, "shim-stack", in); !strings.Contains(strings.Join(out.warnings, " "), "may bind") {
		t.Errorf("0.015 mm of float with 0.02 mm of uncertain: warnings %q", out.warnings)
	}
	if out := figuresOf(t, "shim-stack", in.with("wanted", 0.05).with("shims", []float64{0.25})); len(out.warnings) != 0 {
		t.Errorf("0.05 mm of float with 0.02 mm of uncertain: warnings %q", out.warnings)
	}
}

// Computed independently, no published example: the load wanted is a least load, so the stack is the thinnest that
// reaches it. Rate 38 N/mm, seat 290 N, wanted 312 N: it needs 0.579 mm; 0.5 would leave 309 N.
func TestSpringShimsReachTheLoad(t *testing.T) {
	in := given{"springs": []given{{"rate": 38.0, "load_1": 290.0, "at_1": 38.0, "fitted": 38.0, "solid": 26.0}}, "lift": 9.0,
		"seat_wanted": 312.0, "shims": []float64{0.3, 0.5, 0.8}}
	out := figuresOf(t, "valve-spring", in)
	figureNear(t, out, "shim_for_load", 22.0/38, 1e-12)
	if diff := cmp.Diff([]float64{0.8}, out.lists["pieces"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "seat_then", 320.4, 1e-9)
	// Two pieces where no single one reaches it: 0.3 and 0.5 again make 0.8.
	two := figuresOf(t, "valve-spring", in.with("shims", []float64{0.3, 0.5, 1.2}))
	if diff := cmp.Diff([]float64{0.5, 0.3}, two.lists["pieces"]); diff != "" {
		t.Error(diff)
	}
	refused(t, "valve-spring", in.with("shims", []float64{0.3, 0.2}), "shims")
	// 8.4 N over what is wanted, known to 2·2 N: clear; known to 2·5 N: not.
	for u, told := range map[float64]bool{2: false, 5: true} {
		uncertain := in.with("springs", []given{{"rate": 38.0, "load_1": Num{X: 290, Us: []Component{{U: u}}}, "at_1": 38.0, "fitted": 38.0, "solid": 26.0}})
		if res := mustRun(t, Request{Method: "valve-spring", Inputs: uncertain.vals()}); warned(res, "may be short") != told {
			t.Errorf("u %g N: warnings %q", u, res.Warnings)
		}
	}
	// The margin is kept: the thinnest that reaches the load would bind.
	refused(t, "valve-spring", in.with("shims", []float64{0.5, 2.5}).with("margin_wanted", 1.5), "shims")
	// No shim where the load is there already.
	if none := figuresOf(t, "valve-spring", in.with("seat_wanted", 290.0)); none.adjustments[0].Direction != "none" {
		t.Errorf("got %+v", none.adjustments[0])
	}
}

// ISO 898-1 (from memory): the tensile stress area of M10×1.25 is 61.2 mm²; a waist of 7.8 mm, 47.78 mm², governs.
func TestBoltAreas(t *testing.T) {
	out := figuresOf(t, "bolt-preload", given{"modulus": 206000.0, "segments": []given{{"length": 110.0, "diameter": 7.8}, {"length": 20.0, "thread": "M10x1.25"}}, "stretch": 0.2})
	figureNear(t, out, "stress_area", 61.20, 0.005)
	figureNear(t, out, "governing_area", 47.78, 0.005)
	figureNear(t, out, "stress", out.nums["preload"]/out.nums["governing_area"], 1e-9)
	plain := figuresOf(t, "bolt-preload", given{"modulus": 206000.0, "segments": []given{{"length": 110.0, "diameter": 7.8}}, "stretch": 0.2})
	if _, set := plain.nums["stress_area"]; set {
		t.Error("a bolt without a threaded section has a stress area")
	}
	figureNear(t, plain, "governing_area", 47.78, 0.005)
}

// Through three points there is always a circle (geometry), so they say nothing of form; four and five say little.
func TestFewPointsSayNothingOfForm(t *testing.T) {
	points := [][]float64{{10, 0}, {0, 10}, {-10, 0}, {0, -10.01}, {7.07, 7.07}, {-7.07, 7.07}}
	for n := 3; n <= 6; n++ {
		f := topIn{}.grid("points", append(points[:n:n], points[0])...).compute(t, circleFit()) // one point read twice adds nothing
		if _, given := f.out.nums["roundness"]; given != (n > 3) {
			t.Errorf("%d points: roundness given %v", n, given)
		}
		if warned := strings.Contains(strings.Join(f.out.warnings, " "), "roundness"); warned != (n < 6) {
			t.Errorf("%d points: warnings %q", n, f.out.warnings)
		}
	}
}

// An angle is the same in every turn of the cycle: geometry.
func TestPushAngleInAnyTurn(t *testing.T) {
	in := overValve(inletLobe, 20, turn(-180, 540, 0.5)).num("push", 2.60)
	want := in.num("at", 8).compute(t, valveToPiston()).num("min_clearance")
	for _, at := range []float64{728, -712, 1448} {
		in.num("at", at).compute(t, valveToPiston()).want("min_clearance", want, 1e-9, "the same angle")
	}
	in.num("at", 368).refused(t, valveToPiston(), "at", "368.0") // a turn on the valve is shut
}

// Pieces without a common measure are taken to 0.1 µm; rounded up, all of them together must still be found.
func TestStackTakesEveryPiece(t *testing.T) {
	out := figuresOf(t, "shim-stack", given{"gap": 3.0, "wanted": 0.0, "shims": []float64{0.28125, 0.28515625, 0.53125}})
	if n := len(out.lists["stack"]); n != 3 {
		t.Errorf("%d shims of three for a gap that all of them do not fill", n)
	}
}
