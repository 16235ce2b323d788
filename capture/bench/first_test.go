package bench_test

import (
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

// A block is read dry, and only once that is in, locked.
const firstPlan = head + `
[[step]]
id = "lock"
title = "Lock"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
[[step.point]]
for = "cylinder"
id = "{cylinder}.dry"
title = "{cylinder} dry"
first = true
[[step.point]]
for = "cylinder"
id = "{cylinder}.locked"
title = "{cylinder} locked"
[step.compute]
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.locked"] }
[[step.also]]
name = "dry"
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.dry"] }
limits = { mean = { upper = "0.052 in", source = "a test's" } }
`

// The rest is asked only once the first point is in; out, it is read once more, and every reading is kept.
func TestAFirstPointMustBeInBeforeTheRest(t *testing.T) {
	p := newPlay(t, firstPlan, dial("dial-1", "indicator"))
	at := func(want string, now bench.Now) {
		t.Helper()
		if got := bench.SpotOf(p.sc).Place.Point; got != want {
			t.Fatalf("the next reading belongs at %s, want %s", got, want)
		}
		if got, _ := bench.NowOf(p.sc); got != now {
			t.Fatalf("the bench waits for %s, want %s", got, now)
		}
	}
	if _, err := p.goTo("lock", "left.locked"); err == nil || err.Error() != "left dry must be in before left locked is read" {
		t.Errorf("straight to the locked reading: %v", err)
	}
	at("left.dry", bench.NowReading)
	p.take("dial-1", "0.0560 in")
	at("right.dry", bench.NowReading)
	p.take("dial-1", "0.0500 in")
	if sp := bench.SpotOf(p.sc); sp.Lacks != bench.LacksResult || sp.Why != "the result of left dry is not there yet: wait a moment" {
		t.Errorf("without a result: %s, %q", sp.Lacks, sp.Why)
	}
	p.judged("lock", "left.dry", 1, calc.VerdictOut)
	p.judged("lock", "right.dry", 1, calc.VerdictIn)
	at("left.dry", bench.NowMove)
	if _, err := p.goTo("lock", "right.locked"); err != nil {
		t.Errorf("the right is in: %v", err)
	}
	at("right.locked", bench.NowReading)
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "lock"}})
	at("left.dry", bench.NowMove)
	p.take("dial-1", "0.0510 in")
	p.judged("lock", "left.dry", 1, calc.VerdictIn)
	at("left.locked", bench.NowReading)
	p.take("dial-1", "0.0511 in")
	p.take("dial-1", "0.0501 in")
	b, step := p.sc.State.Current()
	last := b.Step(step.ID).Last()
	if last.Status != bench.PassIsClosed || len(last.Readings) != 5 || p.standing("left.dry") != "0.0510 in" {
		t.Errorf("at the end the pass is %s with %d readings, left dry %s", last.Status, len(last.Readings), p.standing("left.dry"))
	}
}

// Too close to call is not in; whoever goes on all the same says why.
func TestAFirstPointIsPassedOverWithAReason(t *testing.T) {
	p := newPlay(t, firstPlan, dial("dial-1", "indicator"))
	p.take("dial-1", "0.0521 in")
	p.take("dial-1", "0.0500 in")
	p.judged("lock", "left.dry", 1, calc.VerdictTooClose)
	p.judged("lock", "right.dry", 1, calc.VerdictIn)
	if sp := bench.SpotOf(p.sc); sp.Place.Point != "left.dry" || !sp.Anew {
		t.Fatalf("too close to call: %+v", sp.Place)
	}
	p.ok(bench.Verb{Name: bench.DoOverride, Override: &bench.Override{What: bench.OverVerdict, Name: "lock"}, Reason: "within a hair"})
	if sp := bench.SpotOf(p.sc); sp.Place.Point != "left.locked" || !sp.Ready() {
		t.Errorf("passed over: %+v, %s", sp.Place, strings.TrimSpace(sp.Why))
	}
}
