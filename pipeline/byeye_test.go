package pipeline_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// The synthetic engine: a lobe of cos² shape, whose middle is its centre, and a slider crank. Everything below is worked
// out from these lines and nothing else; no published example.
const (
	lobeCentre = 107.3 // crank degrees after overlap top
	lobeHalf   = 152.0 // crank degrees from the centre to the foot
	lobeLift   = 9.4   // mm
	throw      = 41.0
	rodLength  = 152.0
	valveLean  = 38.0 // degrees from the bore's axis
	roomAtTop  = 7.9  // mm between valve and piston where neither moved
)

func liftAt(crank float64) float64 {
	x := math.Remainder(crank-lobeCentre, 720) / lobeHalf
	if math.Abs(x) >= 1 {
		return 0
	}
	c := math.Cos(math.Pi / 2 * x)
	return lobeLift * c * c
}

func dropAt(crank float64) float64 {
	a := crank * math.Pi / 180
	return throw*(1-math.Cos(a)) + rodLength - math.Sqrt(rodLength*rodLength-throw*throw*math.Sin(a)*math.Sin(a))
}

// room is what is left between the valve and the piston, along the valve.
func room(crank float64) float64 {
	return roomAtTop + dropAt(crank)*math.Cos(valveLean*math.Pi/180) - liftAt(crank)
}

// wheelAt is where the lift passes a height, as the eye reads it: to the half degree.
func wheelAt(height float64, rising bool) float64 {
	d := lobeHalf * 2 / math.Pi * math.Acos(math.Sqrt(height/lobeLift))
	at := lobeCentre + d
	if rising {
		at = lobeCentre - d
	}
	return math.Round(2*at) / 2
}

const bothWays = `title = "T"
version = 1
cylinders = ["left", "right"]
[engine.stroke]
value = "82 mm"
source = "measured"
[engine.rod]
value = "152 mm"
source = "measured"
[engine.lean]
value = "38 deg"
source = "measured"
[[step]]
id = "engine"
title = "Engine"
do = "Look at it."
phase = "dry"
kind = "check"
asks = [{ id = "running-direction", text = "Which way?", choice = ["clockwise", "anticlockwise"] }, { id = "wheel-end", text = "Which end?", choice = ["left", "right"] }]
[[step]]
id = "traced"
title = "Traced"
do = "Turn it."
phase = "dry"
kind = "measure"
capture = { mode = "trace", role = "indicator", angle = "angle", angle_setup = "0.1 deg" }
setup = "0.008 mm"
[[step.point]]
id = "lift"
[[step.point]]
id = "push"
mode = "press"
[step.compute]
method = "cam-timing"
inputs = { crank_angle = "@samples.angle:lift", inlet_lift = "@samples.value:lift", checking_height = "1 mm" }
[[step.also]]
name = "room"
method = "valve-to-piston"
inputs = { stroke = "@engine.stroke", rod = "@engine.rod", valve_angle = "@engine.lean", crank_angle = "@samples.angle:lift", lift = "@samples.value:lift", push = "@reading:push", at = "8 deg", valve = "inlet" }
[[step]]
id = "crossed"
title = "Crossed"
do = "Turn it."
phase = "dry"
kind = "measure"
capture = { mode = "crossings", role = "indicator", parallax = "0.15 deg" }
setup = "0.1 deg"
[[step.point]]
along = { height = ["1 mm", "4 mm"] }
id = "inlet.{height}.opening"
height = "{height}"
flank = "rising"
[[step.point]]
along = { height = ["1 mm", "4 mm"] }
id = "inlet.{height}.closing"
height = "{height}"
flank = "falling"
[step.compute]
method = "cam-crossings"
inputs = { heights = "@heights:inlet.*.opening", opening = "@readings:inlet.*.opening", closing = "@readings:inlet.*.closing", tdc = { value = "0 deg", u = "0.1 deg" }, valve = "inlet" }
[[step]]
id = "stopped"
title = "Stopped"
do = "Push it."
phase = "dry"
kind = "measure"
capture = { mode = "stops", role = "indicator", parallax = "0.15 deg" }
setup = "0.01 mm"
[[step.point]]
along = { angle = ["-5 deg", "0 deg", "5 deg", "10 deg", "15 deg", "20 deg", "25 deg"] }
id = "inlet.at{angle}"
[step.compute]
method = "clearance-stops"
inputs = { crank_angle = "@angles:inlet.*", push = "@readings:inlet.*", stroke = "@engine.stroke", rod = "@engine.rod", valve_angle = "@engine.lean" }
`

// A traced lobe, the same one read by eye where it passes two heights, and the valve pushed at seven stops give the same
// centre and the same clearance, each within its own U of the truth and of the other.
func TestTraceStopsAndCrossingsAgree(t *testing.T) {
	s := newShopOf(t, bothWays)
	s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "wheel-1", Role: "wheel", Known: bench.KnownKeyed, Resolution: s.length("0.5 deg")}})
	read := func(step, point string, r bench.Reading) {
		s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &r, Place: bench.Place{Build: "17", Step: step, Pass: 1, Point: point, Seating: 1}})
	}
	mm := func(x float64) quantity.Value { return s.length(fmt.Sprintf("%.3f mm", x)) }
	for _, step := range []string{"traced", "crossed", "stopped"} {
		s.at(bench.StepEntered, step, 0)
		s.at(bench.PassOpened, step, 1)
	}
	trace := &bench.Samples{Unit: "mm", Places: 3}
	for a := 0; a <= 720; a += 2 {
		trace.Angle = append(trace.Angle, int64(a*1000))
		trace.Value = append(trace.Value, mm(liftAt(float64(a))).N)
	}
	read("traced", "lift", bench.Reading{Gauge: "dial-1", Mode: "trace", Raw: mm(0), Value: mm(0), Samples: trace})
	read("traced", "push", bench.Reading{Gauge: "dial-1", Raw: mm(room(8)), Value: mm(room(8))})
	for _, flank := range []string{"opening", "closing"} {
		for _, h := range []float64{1, 4} {
			v := s.length(fmt.Sprintf("%.1f deg", math.Mod(wheelAt(h, flank == "opening")+360, 360)))
			read("crossed", fmt.Sprintf("inlet.%gmm.%s", h, flank), bench.Reading{Gauge: "wheel-1", Mode: "crossings", Keyed: true, Raw: v, Value: v})
		}
	}
	for a := -5; a <= 25; a += 5 {
		read("stopped", fmt.Sprintf("inlet.at%ddeg", a), bench.Reading{Gauge: "dial-1", Mode: "stops", Raw: mm(room(float64(a))), Value: mm(room(float64(a)))})
	}
	for _, step := range []string{"traced", "crossed", "stopped"} {
		s.at(bench.PassClosed, step, 1)
	}
	figure := func(step, key, name string) (x, u float64) {
		t.Helper()
		r, ok := s.results.Get(bench.Slot{Build: "17", Step: step, Pass: 1, Key: key})
		f, has := r.Figure(name)
		if !ok || !has || r.Refused != "" {
			t.Fatalf("%s gives no %s: %q", step, name, r.Refused)
		}
		return *f.Value, f.U
	}
	least := math.Inf(1)
	for a := -30.0; a < 60; a += 0.01 {
		least = min(least, room(a))
	}
	for _, c := range []struct {
		what                 string
		truth, most          float64
		step1, key1, figure1 string
		step2, figure2       string
	}{
		{"lobe centre, degrees", lobeCentre, 1, "traced", "", "inlet_centre", "crossed", "centre"},
		{"least clearance, mm", least, 0.12, "traced", "room", "min_clearance", "stopped", "min_clearance"},
	} {
		x1, u1 := figure(c.step1, c.key1, c.figure1)
		x2, u2 := figure(c.step2, "", c.figure2)
		t.Logf("%s: %.4f; traced %.4f ± %.4f, by eye %.4f ± %.4f", c.what, c.truth, x1, u1, x2, u2)
		if math.Abs(x1-c.truth) > u1 || math.Abs(x2-c.truth) > u2 || math.Abs(x1-x2) > math.Hypot(u1, u2) {
			t.Errorf("%s is %.4f; traced %.4f ± %.4f, by eye %.4f ± %.4f", c.what, c.truth, x1, u1, x2, u2)
		}
		if u2 > c.most || u2 <= u1/20 {
			t.Errorf("%s by eye: U %.4f says nothing, or was not reckoned (traced %.4f)", c.what, u2, u1)
		}
	}
}

// What the eye adds is in the uncertainty: the wheel's division, how it is looked at, and the height.
func TestParallaxIsInTheUncertainty(t *testing.T) {
	for _, c := range []struct{ old, new string }{
		{`parallax = "0.15 deg" }
setup = "0.1 deg"`, `parallax = "0.9 deg" }
setup = "0.1 deg"`},
		{`parallax = "0.15 deg" }
setup = "0.1 deg"`, `parallax = "0.15 deg", band = "0.3 mm" }
setup = "0.1 deg"`},
	} {
		if u, more := crossedU(t, bothWays), crossedU(t, replaceOnce(t, bothWays, c.old, c.new)); more < 1.3*u {
			t.Errorf("%s: U %.3f, was %.3f", c.new, more, u)
		}
	}
}

// crossedU is U of the centre by eye.
func crossedU(t *testing.T, text string) float64 {
	s := newShopOf(t, text)
	s.at(bench.StepEntered, "crossed", 0)
	s.at(bench.PassOpened, "crossed", 1)
	for _, flank := range []string{"opening", "closing"} {
		for _, h := range []float64{1, 4} {
			v := s.length(fmt.Sprintf("%.1f deg", math.Mod(wheelAt(h, flank == "opening")+360, 360)))
			s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: &bench.Reading{Mode: "crossings", Keyed: true, Raw: v, Value: v},
				Place: bench.Place{Build: "17", Step: "crossed", Pass: 1, Point: fmt.Sprintf("inlet.%gmm.%s", h, flank), Seating: 1}})
		}
	}
	s.at(bench.PassClosed, "crossed", 1)
	r, _ := s.results.Get(bench.Slot{Build: "17", Step: "crossed", Pass: 1})
	f, ok := r.Figure("centre")
	if !ok {
		t.Fatalf("no centre: %q", r.Refused)
	}
	return f.U
}

func replaceOnce(t *testing.T, s, old, with string) string {
	t.Helper()
	if strings.Count(s, old) != 1 {
		t.Fatalf("%q stands %d times", old, strings.Count(s, old))
	}
	return strings.Replace(s, old, with, 1)
}
