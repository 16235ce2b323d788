package pipeline_test

import (
	"math"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline"
)

const stretchedBolts = `title = "T"
version = 1
cylinders = ["left"]
[engine.least]
value = "25 kN"
source = "measured"
[engine.most]
value = "30 kN"
source = "measured"
[[step]]
id = "bolts"
title = "Bolts"
do = "Tighten it."
phase = "final"
kind = "measure"
capture = { mode = "press", role = "indicator" }
datum = { do = "Slacken it; zero.", size = "0 mm", at_point = true }
[[step.point]]
along = { bolt = ["1", "2"] }
id = "bolt-{bolt}"
[step.compute]
method = "bolt-preload"
per = "point"
approach = { figure = "preload", point = "{key}" }
[step.compute.inputs]
modulus = "210000 N/mm2"
segments = [{ length = "100 mm", diameter = "10 mm" }]
stretch = "@reading"
[step.compute.limits]
preload = { lower = "@engine.least", upper = "@engine.most" }
`

// TestAimIsKnownBeforeTheFirstReading: the stretch of a plain bar follows from its limits of force alone, s = F·L/(E·A), with
// L 100 mm, E 210,000 N/mm² and A 78.54 mm² (Hooke's law; computed by hand): 25 kN is 0.15158 mm, 30 kN is 0.18189 mm.
func TestAimIsKnownBeforeTheFirstReading(t *testing.T) {
	s := newShopOf(t, stretchedBolts)
	s.at(bench.StepEntered, "bolts", 0)
	at := bench.Place{Build: "17", Step: "bolts", Pass: 1, Point: "bolt-1", Seating: 1}
	band := pipeline.Aim(s.state, s.results, at)
	if band == nil || band.Point != "bolt-1" || math.Abs(*band.Lower-0.15158) > 1e-5 || math.Abs(*band.Upper-0.18189) > 1e-5 || math.Abs(band.Target-0.16673) > 1e-5 || band.Now != nil {
		t.Fatalf("%+v", band)
	}
	at.Point = "bolt-3"
	if got := pipeline.Aim(s.state, s.results, at); got != nil {
		t.Errorf("a bolt that the plan does not have: %+v", got)
	}
	at.Step = "nothing"
	if got := pipeline.Aim(s.state, s.results, at); got != nil {
		t.Errorf("a step that the plan does not have: %+v", got)
	}
}

// TestAimWaitsForWhatItNeeds: where the way to go hangs on a reading that is still to come, nothing is told.
func TestAimWaitsForWhatItNeeds(t *testing.T) {
	s := newShopOf(t, severalRuns)
	s.at(bench.StepEntered, "fit", 0)
	if got := pipeline.Aim(s.state, s.results, bench.Place{Build: "17", Step: "fit", Pass: 1, Point: "left.hole", Seating: 1}); got != nil {
		t.Errorf("%+v", got)
	}
}
