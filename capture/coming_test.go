package capture

import (
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

const eyePlan = `
title = "Rig"
version = 1
cylinders = ["left", "right"]

[variant.running-direction]
title = "Running direction"
choice = ["clockwise", "anticlockwise"]
value = "clockwise"

[variant.wheel-end]
title = "End with the wheel"
choice = ["left", "right"]
value = "left"

[[step]]
id = "cam"
title = "Cam"
do = "Turn on."
phase = "dry"
kind = "measure"
capture = { mode = "crossings", role = "indicator", parallax = "0.2 deg" }
datum = { do = "On the lobe's back.", size = "0 in" }
[[step.point]]
id = "inlet.low.opening"
height = "0.040 in"
flank = "rising"
`

// While the crankshaft is turned the bench says how far it still is, and at the moment where it goes past the height, that
// it did; the wheel is taken only once it came up to the height again.
func TestPastTheHeightIsSaidAtTheMoment(t *testing.T) {
	inRig(t, eyePlan, bench.SendsStream, func(r *rig) {
		hand := func() string {
			live := r.loop.Live()
			if len(live) != 1 {
				t.Fatalf("%d gauges are live", len(live))
			}
			return live[0].Hand
		}
		send := func(values ...string) {
			for _, v := range values {
				r.shows(v)
				r.settle()
			}
		}
		typed, err := quantity.Parse("330 deg")
		if err != nil {
			t.Fatal(err)
		}
		send("+0.1000 in")
		r.ok(bench.Verb{Name: bench.DoZero})
		send("+0.1000 in", "+0.1200 in")
		if got := hand(); got != "0.0200 in to go." {
			t.Errorf("on the way: %q", got)
		}
		send("+0.1420 in")
		if got := r.tell.last(bench.ToneRefused); !strings.HasPrefix(got, "past it: back a quarter turn") {
			t.Errorf("past it was not said at the moment: %q", got)
		}
		if words := r.no(bench.Verb{Name: bench.DoKey, Value: &typed}); !strings.Contains(words, "went past the height") {
			t.Errorf("typed past it: %q", words)
		}
		send("+0.1050 in", "+0.1300 in", "+0.1400 in")
		if got := hand(); got != "Stop. Type the wheel." {
			t.Errorf("there: %q", got)
		}
		r.ok(bench.Verb{Name: bench.DoKey, Value: &typed})
		if got := r.pass(); got == nil || got.Status != bench.PassIsClosed {
			t.Errorf("the pass: %+v", got)
		}
		send("+0.1500 in")
		if got := hand(); got != "" {
			t.Errorf("after it is read the hand is told: %q", got)
		}
	})
}
