package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// cautious is a step with a caution, read by a pressed gauge.
const cautious = `title = "Cautious"
version = 1
cylinders = ["left"]
[[step]]
id = "press"
title = "Pressed"
do = "Read the left block."
phase = "dry"
kind = "measure"
cautions = ["Stop at the first resistance."]
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "left"
[[step]]
id = "other"
title = "Other"
do = "Read the left block."
phase = "dry"
kind = "measure"
cautions = ["Stop at the first resistance."]
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "left"
[[step]]
id = "plain"
title = "Plain"
do = "Read it again."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "left"
`

// TestPedalReadsTheCautionFirst says that the first press at a step with cautions takes no reading but says that they were
// read, that a bouncing pedal does neither, and that a step without cautions is read at once.
func TestPedalReadsTheCautionFirst(t *testing.T) {
	p := newPlay(t, cautious, dial("d", "indicator"), dial("pedal", "key"))
	step := func() *bench.StepState { b, s := p.sc.State.Current(); return b.Step(s.ID) }
	enter := func(id string) {
		p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "17", Step: id}})
		p.sc.CameAt = p.sc.Now
	}
	press := func(after int64) error {
		p.sc.Now += after
		p.shows("d", "1.00 mm")
		was := step().Acknowledged
		_, err := p.do(bench.Heard{Gauge: "pedal", Sample: bench.Sample{At: p.sc.Now, Key: "take"}})
		if step().Acknowledged != was {
			p.sc.ReadAt = p.sc.Now
		}
		return err
	}
	enter("press")
	if err := press(200_000); err == nil || !strings.Contains(err.Error(), "cautions") || step().Acknowledged {
		t.Fatalf("a press 0.2 s after the step came up: %v, read %v", err, step().Acknowledged)
	}
	if err := press(500_000); err != nil || !step().Acknowledged || len(step().Passes) != 0 {
		t.Fatalf("the first press: %v, read %v, passes %d", err, step().Acknowledged, len(step().Passes))
	}
	if err := press(80_000); err == nil || len(step().Passes) != 0 {
		t.Fatalf("a bounce after it: %v, passes %d", err, len(step().Passes))
	}
	if err := press(700_000); err != nil || len(step().Passes) != 1 {
		t.Fatalf("the second press: %v, passes %d", err, len(step().Passes))
	}
	enter("other")
	p.ok(bench.Verb{Name: bench.DoAcknowledge}) // on the screen: the press that follows is no bounce of it
	if err := press(10_000); err != nil || len(step().Passes) != 1 {
		t.Fatalf("read on the screen, then pressed: %v, passes %d", err, len(step().Passes))
	}
	enter("plain")
	if err := press(10_000); err != nil || len(step().Passes) != 1 {
		t.Fatalf("a step without cautions: %v, passes %d", err, len(step().Passes))
	}
}
