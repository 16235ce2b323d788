package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func correct(now, wanted float64) topIn {
	return topIn{}.num("centre_now", now).num("centre_wanted", wanted)
}

func keyway(name string, advance float64) topIn {
	return topIn{}.text("name", name).num("advance", advance)
}

func pinion50(now, wanted float64) topIn {
	return correct(now, wanted).num("teeth", 50).recs("keyways", keyway("0", 0), keyway("+", 2.4), keyway("-", -2.4))
}

func TestCamCorrection(t *testing.T) {
	// Pinion of 50, keyways 0 and ±2.4 cam degrees, −3.1 wanted: keyway −2.4, −0.7 left (computed independently).
	f := pinion50(100, 106.2).compute(t, camCorrection())
	const source = "computed independently"
	f.want("correction_crank", -6.2, 1e-9, source)
	f.want("correction_cam", -3.1, 1e-9, source)
	f.want("residual", -0.7, 1e-9, source)
	f.want("tooth", 0, 0, source)
	f.want("centre_then", 104.8, 1e-9, source)
	if f.text("keyway") != "-" || f.text("direction") != "retard" {
		t.Errorf("keyway %q, direction %q", f.text("keyway"), f.text("direction"))
	}
	// Next best: one tooth back (−7.2) on the +2.4 keyway, −4.8: 1.7 too far.
	if r := f.text("runner_up"); !strings.Contains(r, "keyway +, one tooth back") || !strings.Contains(r, "+1.70") {
		t.Errorf("runner-up %q", r)
	}
	// Standing on the − keyway, a centre 4.8 cam degrees late wants the + keyway.
	f = pinion50(115.6, 106).rec("now", topIn{}.num("tooth", 2).text("keyway", "-")).compute(t, camCorrection())
	f.want("residual", 0, 1e-9, source)
	f.want("tooth", 2, 0, source)
	f.want("tooth_move", 0, 0, source)
	if f.text("keyway") != "+" {
		t.Errorf("keyway %q", f.text("keyway"))
	}
	// Only certain teeth can be reached.
	pinion50(100, 120).list("tooth_moves", 0, 1).compute(t, camCorrection()).want("change_cam", -2.4, 1e-9, "the only retarding option")
	// What is told says which way a mark goes; what is kept is the mark.
	res, err := Run(Request{Method: "cam-correction", Inputs: pinion50(115.6, 106).rec("now", topIn{}.num("tooth", 2).text("keyway", "-"))})
	if err != nil {
		t.Fatal(err)
	}
	if k, _ := res.Figure("keyway"); k.Text[0] != "+" || k.Shown.MM != "earlier (+)" || !strings.Contains(res.Adjustment[0].Words.MM, ": keyway earlier (+), ") {
		t.Errorf("kept %q, shown %q, told %q", k.Text, k.Shown.MM, res.Adjustment[0].Words.MM)
	}

	// Of two equally near the one with fewer teeth: half a tooth of 7.2 wanted, keyways 0 only.
	correct(107.2, 100).num("teeth", 50).compute(t, camCorrection()).want("tooth", 0, 0, "a tie takes fewer teeth")
	f = correct(106, 106).num("teeth", 50).compute(t, camCorrection())
	if a := f.adjustment(); a.Direction != "none" {
		t.Errorf("nothing to correct: %+v", a)
	}
	f.unset("keyway")
}

func TestCamCorrectionVernier(t *testing.T) {
	// 17 and 16 holes: 360/272 = 1.3235 cam degrees a step (computed independently).
	f := correct(110, 106).num("holes_a", 17).num("holes_b", 16).compute(t, camCorrection())
	f.want("step", 1.3235, 5e-5, "computed independently")
	f.want("steps", 2, 0, "2/1.3235 = 1.51")
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(5, 30).Draw(t, "a"), rapid.IntRange(5, 30).Draw(t, "b")
		want := rapid.Float64Range(-20, 20).Draw(t, "correction")
		out, err := correct(106+want, 106).num("holes_a", float64(a)).num("holes_b", float64(b)).try(camCorrection())
		if err != nil {
			t.Fatal(err)
		}
		// The pair named meets when the camshaft is turned by the change.
		wheel, cam := 360*out.nums["hole_a"]/float64(a), 360*out.nums["hole_b"]/float64(b)+out.nums["change_cam"]
		if math.Abs(signed(wheel-cam, 360)) > 1e-9 {
			t.Fatalf("hole at %v° on the wheel, %v° on the camshaft", wheel, cam)
		}
		if math.Abs(out.nums["residual"]) > out.nums["step"]/2+1e-9 {
			t.Fatalf("residual %v of a step of %v", out.nums["residual"], out.nums["step"])
		}
	})
}

func TestCamCorrectionRefuses(t *testing.T) {
	correct(110, 106).refused(t, camCorrection(), "teeth")
	correct(110, 106).num("teeth", 20.5).refused(t, camCorrection(), "teeth", "20.5")
	correct(110, 106).num("holes_a", 17).refused(t, camCorrection(), "holes_b")
	correct(110, 106).num("holes_a", 17).num("holes_b", 16).num("teeth", 50).refused(t, camCorrection(), "holes_a")
	correct(466, 106).num("teeth", 50).refused(t, camCorrection(), "centre_now", "360")
	pinion50(110, 106).rec("now", topIn{}.text("keyway", "x")).refused(t, camCorrection(), "now.keyway", "x")
	correct(110, 106).num("teeth", 50).recs("keyways", keyway("a", 1)).refused(t, camCorrection(), "now.keyway")
	correct(110, 106).num("teeth", 50).rec("now", topIn{}.text("keyway", "a")).refused(t, camCorrection(), "now.keyway")
	pinion50(110, 106).list("tooth_moves", 0.5).refused(t, camCorrection(), "tooth_moves", "0.5")
	pinion50(160, 106).compute(t, camCorrection()).warns("54")
	neverPanics(t, camCorrection(), pinion50(110, 106).list("tooth_moves", -1, 0, 1).rec("now", topIn{}.text("keyway", "+")))
}

// Turning the camshaft as said brings the measured centre to where the correction says it will be, nearest to what is
// wanted.
func TestCamCorrectionReachesCentre(t *testing.T) {
	wanted := 106.0
	angles := turn(0, 720, 4)
	for _, centre := range []float64{95, 104, 112.6, 121} {
		now := lobe{8.5, centre, 150, 150}
		g := topIn{}.list("crank_angle", angles...).num("checking_height", 1)
		measured := g.list("inlet_lift", now.sample(angles)...).compute(t, camTiming()).num("inlet_centre")
		f := pinion50(measured, wanted).compute(t, camCorrection())
		// A camshaft turned ahead by so many of its own degrees lifts twice as many crank degrees earlier.
		then := lobe{8.5, centre - 2*f.adjustment().Amount, 150, 150}
		after := g.list("inlet_lift", then.sample(angles)...).compute(t, camTiming()).num("inlet_centre")
		f.want("centre_then", after, 2e-3, "measured again after the correction, to the interpolation between samples 4° apart")
		if math.Abs(after-wanted) > math.Abs(measured-wanted)+1e-6 || math.Abs(after-wanted) > 2.4+2e-3 {
			t.Errorf("from %v to %v, wanted %v", measured, after, wanted)
		}
	}
}

func TestKeyOffset(t *testing.T) {
	const source = "computed independently"
	key := func(d, correction float64, shaft string) topIn {
		return topIn{}.num("shaft_diameter", d).num("correction_crank", correction).text("shaft", shaft)
	}
	f := key(inch*0.75, 4, "camshaft").compute(t, keyOffset())
	f.want("step", inch*0.01309, inch*5e-6, source)
	f.want("step_arc", inch*0.01309, inch*5e-6, source)
	key(22, 3, "crankshaft").compute(t, keyOffset()).want("step", 0.5757, 5e-5, source)
	key(22, -6, "camshaft").compute(t, keyOffset()).want("step", -0.5757, 5e-5, source)
	key(22, 0, "camshaft").compute(t, keyOffset()).want("step", 0, 0, "no correction")
	key(22, 30, "camshaft").refused(t, keyOffset(), "correction_crank", "15.00")
	key(22, 12, "camshaft").compute(t, keyOffset()).warns("6.0")
	neverPanics(t, keyOffset(), key(22, 3, "camshaft"))
}

// A key built as said, in a shaft turning to plus: one half lies on the shaft's radius, the other beside it by the step.
// The wheel of the camshaft follows the pinion of the crank at half speed.
func TestKeyOffsetReachesCorrection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(12, 40).Draw(t, "shaft")
		correction := rapid.Float64Range(-9, 9).Draw(t, "correction")
		shaft := rapid.SampledFrom([]string{"camshaft", "crankshaft"}).Draw(t, "of")
		out, err := topIn{}.num("shaft_diameter", d).num("correction_crank", correction).text("shaft", shaft).try(keyOffset())
		if err != nil {
			t.Fatal(err)
		}
		words := strings.Join(out.texts["leads"], "")
		wheelAhead := degrees(math.Asin(math.Abs(out.nums["step"]) / (d / 2))) // of its shaft
		switch words {
		case "shaft half":
			wheelAhead = -wheelAhead
		case "neither half":
			wheelAhead = 0
		case "wheel half":
		default:
			t.Fatalf("leads %q", words)
		}
		// Crank at 0. A pinion ahead of the crank takes the camshaft's wheel half as far ahead; a wheel ahead of its
		// camshaft leaves the camshaft behind.
		camshaft := wheelAhead / 2
		if shaft == "camshaft" {
			camshaft = -wheelAhead
		}
		if got := 2 * camshaft; math.Abs(got-correction) > 1e-8 {
			t.Fatalf("the camshaft is advanced by %v crank degrees, wanted %v", got, correction)
		}
	})
}
