package plan_test

import (
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

const crossing = head + `
[engine.checking_height]
value = "1 mm"
source = "measured"

[[step]]
id = "engine"
title = "Engine"
do = "Look at it."
phase = "dry"
kind = "check"
asks = [{ id = "running-direction", text = "Which way?", choice = ["clockwise", "anticlockwise"] }, { id = "wheel-end", text = "Which end?", choice = ["left", "right"] }]

[[step]]
id = "cam"
title = "Cam"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "crossings", role = "indicator", parallax = "0.2 deg" }
setup = "0.25 deg"
[[step.point]]
id = "inlet.low.opening"
height = "@engine.checking_height"
flank = "rising"
least = "300 deg"
[[step.point]]
id = "inlet.high.opening"
height = "4 mm"
flank = "rising"
[[step.point]]
id = "inlet.low.closing"
height = "@engine.checking_height"
flank = "falling"
[[step.point]]
id = "inlet.high.closing"
height = "4 mm"
flank = "falling"
[step.compute]
method = "cam-crossings"
inputs = { heights = "@heights:inlet.*.opening", opening = "@readings:inlet.*.opening", closing = "@readings:inlet.*.closing", tdc = "0 deg", valve = "inlet" }
`

func TestHeightsThatArePassed(t *testing.T) {
	p := parse(t, crossing)
	s, _ := p.Step("cam")
	if k := s.KindOf("inlet.low.opening"); k != quantity.Angle {
		t.Errorf("what is kept is %s, want an angle", k)
	}
	if s.RoleOf("inlet.low.opening") != "indicator" || s.Reader("inlet.low.opening") != "wheel" || s.Lobe("inlet.low.opening") != "inlet" {
		t.Errorf("watched by %s, read by %s, of %q", s.RoleOf("inlet.low.opening"), s.Reader("inlet.low.opening"), s.Lobe("inlet.low.opening"))
	}
	if pt, _ := s.Point("inlet.low.opening"); pt.HeightData != "checking_height" || pt.Height.Float() != 1 || pt.Flank != plan.Rising {
		t.Errorf("point %+v", pt)
	}
	if got := p.Turn(func(string) string { return "" }); got != "" {
		t.Errorf("before it is known the engine turns %q", got)
	}
	if len(s.Awaits) != 2 {
		t.Errorf("the step awaits %v", s.Awaits)
	}
	for _, c := range []struct{ old, new, want string }{
		{`parallax = "0.2 deg"`, `parallaxe = "0.2 deg"`, `unknown key "parallaxe"; did you mean "parallax"?`},
		{`, parallax = "0.2 deg"`, ``, `parallax is missing: how far the wheel is misread from askew`},
		{`parallax = "0.2 deg"`, `parallax = "0 deg"`, `parallax is 0 deg; want more than nothing`},
		{"height = \"@engine.checking_height\"\nflank = \"rising\"\n", `flank = "rising"` + "\n", `step "cam": point "inlet.low.opening": a height that is passed wants height = "1 mm" and flank`},
		{`flank = "rising"`, `flank = "raising"`, `flank is "raising"; did you mean "rising"?`},
		{`@engine.checking_height`, `@engine.cheking_height`, `there is no [engine.cheking_height]; did you mean "checking_height"?`},
		{`height = "4 mm"`, `height = "4 deg"`, `height:`},
		{`least = "300 deg"`, `least = "0.3 in"`, `least:`},
		{`@heights:inlet.*.opening`, `@depths:inlet.*.opening`, `has no depth`},
		{`mode = "crossings"`, `mode = "keyed"`, `parallax is for a wheel that is read by eye`},
		{`mode = "crossings"`, `mode = "stops"`, `a stop wants the angle at which the wheel stands`},
		{`id = "running-direction"`, `id = "running"`, `a wheel is read by eye, and nothing asks running-direction: add it to the asks of an earlier step`},
		{`choice = ["clockwise", "anticlockwise"]`, `choice = ["left", "right"]`, `running-direction is clockwise or anticlockwise, seen from the wheel; the plan has left, right`},
		{`flank = "rising"`, "flank = \"rising\"\nturned = \"back\"", `turned is for a wheel that is typed`},
	} {
		text := strings.Replace(crossing, c.old, c.new, 1)
		if text == crossing {
			t.Fatalf("the plan has no %s", c.old)
		}
		_, err := plan.Parse("test", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.new, err, c.want)
		}
	}
	// A variant serves as well: it is chosen before the build is begun.
	text := strings.Replace(crossing, `asks = [{ id = "running-direction", text = "Which way?", choice = ["clockwise", "anticlockwise"] }, { id = "wheel-end", text = "Which end?", choice = ["left", "right"] }]`, `confirms = [{ id = "seen", text = "Seen." }]`, 1)
	text = strings.Replace(text, "[engine.", "[variant.running-direction]\ntitle = \"Way\"\nchoice = [\"clockwise\", \"anticlockwise\"]\nvalue = \"clockwise\"\n[variant.wheel-end]\ntitle = \"End\"\nchoice = [\"left\", \"right\"]\nvalue = \"left\"\n[engine.", 1)
	p = parse(t, text)
	if got := p.Turn(func(string) string { return "" }); got != "clockwise, seen from the wheel on the left end" {
		t.Errorf("the engine turns %q", got)
	}
}
