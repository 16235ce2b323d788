package view

import (
	"fmt"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// played is a bench that stands where the entries have brought it, with two gauges of different roles that both show
// something.
type played struct {
	t     *testing.T
	state bench.State
}

func play(t *testing.T, text string) *played {
	t.Helper()
	p := &played{t: t}
	p.state.Bench = "bench-1"
	for name, role := range map[string]string{"dial-1": "indicator", "bore-1": "bore", "wheel-1": "angle"} {
		p.add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: name, Profile: "text", Port: "/dev/" + name, Known: bench.KnownPath, Role: role, Sends: bench.SendsStream, Sense: 1}})
		p.add(bench.Entry{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: name, Port: "/dev/" + name, Device: name}})
	}
	p.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "own", Text: text}, Place: bench.Place{Build: "17"}})
	return p
}

func (p *played) add(e bench.Entry) bench.Entry {
	p.t.Helper()
	e.V, e.Bench, e.N, e.At, e.ClockOK = bench.Version, p.state.Bench, p.state.N+1, time.Now().UnixMicro(), true
	e.ID = fmt.Sprintf("entry-%06d", e.N)
	next, err := bench.Apply(p.state, e)
	if err != nil {
		p.t.Fatalf("%s: %v", e.Kind, err)
	}
	p.state = next
	return e
}

func (p *played) read(gauge string, place bench.Place) {
	p.t.Helper()
	one := quantity.OfLength(254_000_000, quantity.Inch.For(quantity.Length), 4)
	p.add(bench.Entry{Kind: bench.ReadingTaken, Place: place, Reading: &bench.Reading{Gauge: gauge, Raw: one, Value: one, Mode: "press"}})
}

func (p *played) view() View { return Of(p.scene(), nil) }

func (p *played) scene() bench.Scene {
	newest := map[string]bench.Sample{}
	now := time.Now().UnixMicro()
	for _, g := range p.state.Gauges {
		newest[g.Name] = bench.Sample{At: now, Value: quantity.OfLength(254_000_000, quantity.Inch.For(quantity.Length), 4)}
	}
	return bench.Scene{State: p.state, Committed: p.state.N, Now: now, Newest: newest}
}

func planOf(steps string) string {
	return "title = \"Own\"\nversion = 1\ncylinders = [\"left\", \"right\"]\n" + steps
}

const sweptStep = `
[[step]]
id = "swept"
title = "Swept"
do = "Turn it."
phase = "dry"
kind = "measure"
capture = { mode = "highest", role = "indicator" }
datum = { do = "Rest the indicator and zero it.", close = true, drift = "0.0005 in" }
    [[step.point]]
    id = "left"
    [[step.point]]
    id = "right"
`

// TestClosingDatumOfASweptStepIsTaken: the reading that closes a swept pass is no sweep, so the first button takes it.
func TestClosingDatumOfASweptStepIsTaken(t *testing.T) {
	p := play(t, planOf(sweptStep))
	at := bench.Place{Build: "17", Step: "swept"}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: at})
	one := quantity.OfLength(0, quantity.Inch.For(quantity.Length), 4)
	p.add(bench.Entry{Kind: bench.ZeroSet, Place: at, Zero: &bench.Zero{Gauge: "dial-1", Raw: one, Shows: one}})
	at.Pass = 1
	p.add(bench.Entry{Kind: bench.PassOpened, Place: at})
	if v := p.view(); len(v.Actions) == 0 || v.Actions[0].Verb != bench.DoSweep {
		t.Fatalf("at the first point the page offers %+v, want a move", v.Actions)
	} else if want := "Begin the move"; v.Actions[0].Label != want {
		t.Errorf("what is moved to and fro is begun with %q, want %q: only a trace is a turn", v.Actions[0].Label, want)
	}
	for _, point := range []string{"left", "right"} {
		at.Point, at.Seating = point, 1
		p.read("dial-1", at)
	}
	v := p.view()
	if v.Stage != StageDatum || len(v.Actions) == 0 || v.Actions[0].Verb != bench.DoTake || !v.Actions[0].Primary || v.Actions[0].Label != "Take" {
		t.Errorf("back on the datum: stage %s, first %+v; want Take", v.Stage, v.Actions)
	}
}

// TestPointThatWasGoneTo: before the first pass the page names the point that somebody went to, which is the one the
// reading is kept under.
func TestPointThatWasGoneTo(t *testing.T) {
	p := play(t, planOf(sweptStep))
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "swept", Point: "right", Seating: 1}})
	v := p.view()
	if v.Point != "right" || v.Next != "Next: RIGHT" {
		t.Errorf("gone to the right, the page says %q, %q", v.Point, v.Next)
	}
	for _, row := range v.Points {
		if row.Here != (row.ID == "right") {
			t.Errorf("point %s is marked %v", row.ID, row.Here)
		}
	}
}

// TestNextPassReadsItsPointsOwnGauge: where the first point of the next pass has a role of its own, its gauge is shown and
// not the step's.
func TestNextPassReadsItsPointsOwnGauge(t *testing.T) {
	p := play(t, planOf(`
[[step]]
id = "mixed"
title = "Mixed"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "left"
    role = "bore"
    [[step.point]]
    id = "right"
`))
	at := bench.Place{Build: "17", Step: "mixed"}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: at})
	for pass := 1; pass <= 2; pass++ {
		v := p.view()
		if v.Gauge == nil || v.Gauge.Name != "bore-1" || v.Title != "LEFT" {
			t.Fatalf("before pass %d the page shows %+v for %s, want the bore gauge for the left", pass, v.Gauge, v.Title)
		}
		at.Pass = pass
		p.add(bench.Entry{Kind: bench.PassOpened, Place: at})
		at.Point, at.Seating = "left", 1
		p.read("bore-1", at)
		if v := p.view(); v.Gauge == nil || v.Gauge.Name != "dial-1" {
			t.Fatalf("at the right point of pass %d the page shows %+v, want the indicator", pass, v.Gauge)
		}
		at.Point = "right"
		p.read("dial-1", at)
		at.Point, at.Seating = "", 0
		p.add(bench.Entry{Kind: bench.PassClosed, Place: at})
		p.add(bench.Entry{Kind: bench.PassVoid, Place: at, Reason: "once more"})
	}
}

// TestButtonsAreWhatTheBenchAccepts: every button of the page is a verb that the bench offers, in the states above.
func TestButtonsAreWhatTheBenchAccepts(t *testing.T) {
	p := play(t, planOf(sweptStep))
	at := bench.Place{Build: "17", Step: "swept"}
	check := func(where string) {
		t.Helper()
		v := p.view()
		newest := map[string]bench.Sample{}
		for _, g := range p.state.Gauges {
			newest[g.Name] = bench.Sample{At: time.Now().UnixMicro(), Value: quantity.OfLength(1, quantity.Inch.For(quantity.Length), 4)}
		}
		offers := bench.Offers(bench.Scene{State: p.state, Committed: p.state.N, Now: time.Now().UnixMicro(), Newest: newest})
		for _, a := range v.Actions {
			if _, ok := bench.Offered(offers, a.Verb); !ok {
				t.Errorf("%s: the page shows %q (%s), the bench would refuse it", where, a.Label, a.Verb)
			}
		}
		if len(v.Actions) == 0 {
			t.Errorf("%s: no button", where)
		}
	}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: at})
	check("without a zero")
	one := quantity.OfLength(0, quantity.Inch.For(quantity.Length), 4)
	p.add(bench.Entry{Kind: bench.ZeroSet, Place: at, Zero: &bench.Zero{Gauge: "dial-1", Raw: one, Shows: one}})
	check("with a zero")
	at.Pass = 1
	p.add(bench.Entry{Kind: bench.PassOpened, Place: at})
	check("in a pass")
	at.Point, at.Seating = "left", 1
	p.read("dial-1", at)
	check("after a reading")
}
