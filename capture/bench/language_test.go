package bench_test

import (
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

const micros = int64(time.Second / time.Microsecond)

// One step reads with two gauges, each on its own datum: a zero of the one does not count for the other, and counts for
// every point that is read with it.
func TestTwoGaugesInAStepHaveTheirOwnZeros(t *testing.T) {
	text := head + stepText("fit", `{ mode = "press", role = "bore" }`, `datum = { do = "Ring.", size = "25 mm" }
[[step.gauge]]
name = "shaft"
capture = { mode = "press", role = "micrometer" }
datum = { do = "Piece.", size = "20 mm" }`, pointText("left.hole", "")+pointText("left.shaft", `gauge = "shaft"`)+pointText("right.shaft", `gauge = "shaft"`))
	p := newPlay(t, text, dial("bore-1", "bore"), dial("mic-1", "micrometer"))
	p.shows("bore-1", "0.001 mm")
	p.shows("mic-1", "0.002 mm")
	if why := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(why, "Ring. Then zero") {
		t.Errorf("before any zero: %s", why)
	}
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("bore-1", "0.011 mm")
	if got := p.standing("left.hole"); got != "25.010 mm" {
		t.Errorf("the hole reads %s", got)
	}
	sp := bench.SpotOf(p.sc)
	if sp.Gauge == nil || sp.Gauge.Name != "mic-1" || !strings.Contains(sp.Why, "Piece. Then zero") {
		t.Fatalf("at the shaft: gauge %v, %s", sp.Gauge, sp.Why)
	}
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("mic-1", "-0.003 mm")
	if got := p.standing("left.shaft"); got != "19.995 mm" {
		t.Errorf("the shaft reads %s", got)
	}
	p.take("mic-1", "0.002 mm") // carries over from left to right
	if got := p.standing("right.shaft"); got != "20.000 mm" {
		t.Errorf("the right shaft reads %s", got)
	}
}

// One gauge on two data in a step: set on the one, it may not read what belongs to the other.
func TestOneGaugeOnTwoDataIsZeroedForEach(t *testing.T) {
	text := head + stepText("fit", `{ mode = "press", role = "bore" }`, `datum = { do = "Large ring.", size = "25 mm" }
[[step.gauge]]
name = "small"
capture = { mode = "press", role = "bore" }
datum = { do = "Small ring.", size = "12 mm" }`, pointText("left.seat", "")+pointText("left.hole", `gauge = "small"`))
	p := newPlay(t, text, dial("bore-1", "bore"))
	p.shows("bore-1", "0 mm")
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("bore-1", "0.01 mm")
	if why := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(why, "Small ring. Then zero") {
		t.Errorf("the zero of the large ring counts for the small one: %s", why)
	}
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("bore-1", "0.02 mm")
	if got := p.standing("left.hole"); got != "12.01 mm" {
		t.Errorf("the hole reads %s", got)
	}
}

// Where every point has a zero of its own, it stands through the passes: a bolt is not slackened to be read once more.
func TestAZeroOfItsPointStandsThroughThePasses(t *testing.T) {
	text := head + stepText("bolts", `{ mode = "press", role = "indicator" }`, `datum = { do = "On the free bolt.", at_point = true }`, pointText("bolt-1", "")+pointText("bolt-2", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	for i, zero := range []string{"0.10 mm", "0.30 mm"} {
		p.shows("dial-1", zero)
		if why := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(why, "On the free bolt. Then zero") {
			t.Fatalf("bolt %d without a zero: %s", i+1, why)
		}
		p.ok(bench.Verb{Name: bench.DoZero})
		p.take("dial-1", []string{"0.22 mm", "0.43 mm"}[i])
	}
	p.ok(bench.Verb{Name: bench.DoAgain})
	p.take("dial-1", "0.24 mm")
	p.take("dial-1", "0.45 mm")
	if a, b := p.standing("bolt-1"), p.standing("bolt-2"); a != "0.14 mm" || b != "0.15 mm" {
		t.Errorf("in the second pass the bolts read %s and %s, want 0.14 and 0.15 mm against their own zeros", a, b)
	}
	// A gauge that was unplugged has lost all of them.
	p.make(bench.Entry{Kind: bench.ZeroLost, Item: "dial-1", Reason: "unplugged"})
	p.ok(bench.Verb{Name: bench.DoAgain})
	if why := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(why, "has no zero for bolt-1") {
		t.Errorf("after it was lost: %s", why)
	}
}

const curing = `title = "Rules"
version = 1
cylinders = ["left", "right"]
[[step]]
id = "compound"
title = "Compound"
do = "Put it on."
phase = "dry"
kind = "fit"
confirms = [{ id = "on", text = "On." }, { id = "home", text = "Home.", alone = true }]
cures = [{ name = "compound", time = "20 min", holds = ["followers"] }, { name = "open-tin", time = "10 min", until = "followers" }]
[[step]]
id = "followers"
title = "Followers"
do = "Fit them."
phase = "dry"
kind = "fit"
needs = ["compound"]
confirms = [{ id = "in", text = "In." }]
`

// What cures holds the step that waits for it, until it is over; an open time that runs out is told. A clock that is set
// back takes nothing from what was done.
func TestWhatCuresHolds(t *testing.T) {
	p := newPlay(t, curing)
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "home"})
	b, _ := p.sc.State.Current()
	if len(b.Clocks) != 2 {
		t.Fatalf("clocks: %+v", b.Clocks)
	}
	p.ok(bench.Verb{Name: bench.DoNext})
	p.sc.Now += 5 * 60 * micros
	if why := p.no(bench.Verb{Name: bench.DoConfirm, Item: "in"}); why != "compound of Compound is not over: 15 min to go" {
		t.Errorf("after 5 minutes: %s", why)
	}
	p.sc.Now -= 3600 * micros
	if why := p.no(bench.Verb{Name: bench.DoConfirm, Item: "in"}); why != "compound of Compound is not over: 20 min to go" {
		t.Errorf("with the clock set back an hour: %s", why)
	}
	p.sc.Now += (3600 + 10*60) * micros
	if open := bench.OpenTimes(b, p.sc.Results, bench.Moment{At: p.sc.Now}); len(open) != 1 || !strings.Contains(open[0], "open tin of Compound has run out") {
		t.Errorf("after 15 minutes: %v", open)
	}
	p.sc.Now += 5 * 60 * micros
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "in"})
	b, _ = p.sc.State.Current()
	if open := bench.OpenTimes(b, p.sc.Results, bench.Moment{At: p.sc.Now}); len(open) != 0 {
		t.Errorf("with the followers in: %v", open)
	}
}

// What is asked singly is not among what one press confirms.
func TestAskedSingly(t *testing.T) {
	p := newPlay(t, curing)
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	b, step := p.sc.State.Current()
	if open := bench.ToConfirm(b, *step); len(open) != 1 || open[0] != "home" {
		t.Errorf("still to confirm: %v", open)
	}
	if why := p.no(bench.Verb{Name: bench.DoConfirm, Item: "all"}); !strings.Contains(why, "asked singly: confirm home by itself") {
		t.Errorf("%s", why)
	}
}

// Engine data that follows from other data follows from what holds in the build.
func TestDerivedDataFollowTheBuild(t *testing.T) {
	text := head + "[engine.stroke]\nvalue = \"80 mm\"\nsource = \"measured\"\n[engine.throw]\nderived = \"stroke / 2\"\n" +
		stepText("a", `{ role = "indicator" }`, "", pointText("p", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	v, _ := quantity.Parse("84 mm")
	p.ok(bench.Verb{Name: bench.DoOverride, Override: &bench.Override{What: "engine", Name: "stroke", Value: &v}, Reason: "measured"})
	b, _ := p.sc.State.Current()
	if d, _ := b.Datum("throw"); d.Value.String() != "42 mm" {
		t.Errorf("half of 84 mm is %s", d.Value)
	}
}

// A step whose last points are asked for in a later pass is not done before it, whatever the first pass finds; the next
// reading opens that pass.
func TestAStepWaitsForThePassOfItsLastPoints(t *testing.T) {
	text := head + stepText("shims", `{ mode = "press", role = "indicator" }`, "", pointText("bare", "once = true")+pointText("float", "from_pass = 2"))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	p.take("dial-1", "0.031 in")
	b, step := p.sc.State.Current()
	if got := bench.ProgressOf(b, *step, p.sc.Results); got != bench.Measured {
		t.Errorf("after the first pass the step is %q", got)
	}
	p.take("dial-1", "0.008 in")
	b, step = p.sc.State.Current()
	if got := p.standing("float"); got != "0.008 in" || b.Step("shims").Last().Number != 2 {
		t.Errorf("the second pass has %q", got)
	}
	if got := bench.ProgressOf(b, *step, p.sc.Results); got != bench.Done {
		t.Errorf("after the second pass the step is %q", got)
	}
}

// Where a step has all engine data, they are confirmed there, once for the whole build.
func TestAllDataOnOnePage(t *testing.T) {
	text := head + "[engine.gap]\nvalue = \"1 mm\"\nsource = \"common practice\"\nconfirm = true\n" + `
[[step]]
id = "ready"
title = "Ready"
do = "Look."
phase = "dry"
kind = "check"
data = true
confirms = [{ id = "ready", text = "Ready." }]
` + stepText("a", `{ role = "indicator" }`, "", pointText("p", "")+"[step.compute]\nmethod = \"ring-gap\"\ninputs = { gap = \"@reading:p\", bore_at_gap = \"70 mm\", narrowest_bore = \"70 mm\", target_gap = \"@engine.gap\" }\n")
	p := newPlay(t, text, dial("dial-1", "indicator"))
	b, step := p.sc.State.Current()
	if open := bench.ToConfirm(b, *step); len(open) != 2 || open[0] != "engine.gap" {
		t.Fatalf("to confirm at first: %v", open)
	}
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	p.ok(bench.Verb{Name: bench.DoNext})
	b, step = p.sc.State.Current()
	if open := bench.ToConfirm(b, *step); len(open) != 0 {
		t.Errorf("asked again: %v", open)
	}
}

// One typed value says nothing where a curve is traced: it is refused, not kept in a pass that then has no figures.
func TestATypedValueIsRefusedWhereACurveIsTraced(t *testing.T) {
	text := head + stepText("lift", `{ mode = "trace", role = "indicator", angle = "angle" }`, "", pointText("inlet", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"), dial("encoder-1", "angle"))
	v, _ := quantity.Parse("0.100 in")
	if why := p.no(bench.Verb{Name: bench.DoKey, Gauge: "dial-1", Value: &v}); !strings.Contains(why, "inlet is traced over a turn") {
		t.Errorf("%s", why)
	}
}
