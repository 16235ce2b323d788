package view

import (
	"strings"
	"testing"
	"time"

	"thoud/calc"
	"thoud/capture/bench"
)

const drilledStep = `
[[step]]
id = "smeared"
title = "Compound on"
do = "Smear it."
phase = "dry"
kind = "fit"
cures = [{ name = "compound", time = "90 min", holds = ["drilled"] }]
confirms = [{ id = "on", text = "It is on." }]
[[step]]
id = "drilled"
title = "Drilled"
do = "Read the flange."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "left"
    [[step.also]]
    name = "drills"
    before = true
    method = "thread"
    shown = ["tap_drill"]
    inputs = { thread = "@engine.screw" }
[engine.screw]
title = "Thread of the screw"
word = "M6"
source = "drawing"
`

// TestWhatIsToldBeforeTheFirstReading shows the drill before anything was read, without the name of its computation, and
// no more once something was read and judged. M6 × 1: tap drill 5.0 mm (ISO 2306).
func TestWhatIsToldBeforeTheFirstReading(t *testing.T) {
	p := play(t, planOf(drilledStep))
	at := bench.Place{Build: "17", Step: "drilled"}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: at})
	res, err := calc.Run(calc.Request{Method: "thread", Inputs: map[string]calc.Val{"thread": {Text: "M6"}}})
	if err != nil {
		t.Fatal(err)
	}
	sc := p.scene()
	sc.Results = sc.Results.With(bench.Result{Build: "17", Step: "drilled", Key: "drills", Result: res, Request: calc.Request{Method: "thread"}})
	v := Of(sc, nil)
	if len(v.Told) != 1 || !strings.HasPrefix(v.Told[0].MM, "tap drill 5") || strings.Contains(v.Told[0].MM, "drills") {
		t.Errorf("told %q, want the tap drill of 5 mm", v.Told)
	}
}

// TestRunningTimesAreTold tells what cures, and the step that waits for it says how long.
func TestRunningTimesAreTold(t *testing.T) {
	p := play(t, planOf(drilledStep))
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "smeared"}})
	p.add(bench.Entry{Kind: bench.Confirmed, Place: bench.Place{Build: "17", Step: "smeared"}, Item: "on"})
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "drilled"}})
	sc := p.scene()
	if v := Of(sc, nil); len(v.Clocks) != 1 || v.Clocks[0] != "compound of Compound on: 1 h 30 min to go" || v.Stage != StageBlocked || !strings.Contains(v.Now, "1 h 30 min to go") {
		t.Errorf("clocks %q, stage %s, now %q", v.Clocks, v.Stage, v.Now)
	}
	sc.Now += (91 * time.Minute).Microseconds()
	if v := Of(sc, nil); len(v.Clocks) != 0 || v.Stage == StageBlocked {
		t.Errorf("once it is over: clocks %q, stage %s", v.Clocks, v.Stage)
	}
}
