package bench_test

import (
	"fmt"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// eyeAsks asks what must be known before a wheel is read by eye.
const eyeAsks = `
[[step]]
id = "engine"
title = "Engine"
do = "Look at it."
phase = "dry"
kind = "check"
asks = [{ id = "running-direction", text = "Which way does it run?", choice = ["clockwise", "anticlockwise"] }, { id = "wheel-end", text = "Which end carries the wheel?", choice = ["left", "right"] }]
`

const lobe = head + eyeAsks + `
[[step]]
id = "cam"
title = "Cam"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "crossings", role = "indicator", parallax = "0.2 deg" }
datum = { do = "On the lobe's back.", size = "0 mm" }
[[step.point]]
id = "inlet.low.opening"
height = "1 mm"
flank = "rising"
[[step.point]]
id = "inlet.high.opening"
height = "4 mm"
flank = "rising"
[[step.point]]
id = "inlet.high.closing"
height = "4 mm"
flank = "falling"
[[step.point]]
id = "inlet.low.closing"
height = "1 mm"
flank = "falling"
`

// watched lets a gauge move through places and watches how it comes to the height, as the loop does; it gives what was
// said at the moment.
func (p *play) watched(gauge string, mm ...float64) (said string) {
	p.tb.Helper()
	sp := bench.SpotOf(p.sc)
	if p.sc.Coming == nil || p.sc.Coming.Place != sp.Place {
		p.sc.Coming = bench.ComingTo(sp)
	}
	if p.sc.Coming == nil {
		p.tb.Fatalf("nothing is watched at %s: %s", sp.Place, sp.Why)
	}
	for _, x := range mm {
		p.shows(gauge, fmt.Sprintf("%.3f mm", x))
		if words := p.sc.Coming.Feed(p.sc.Newest[gauge].Value); words != "" {
			said = words
		}
	}
	return said
}

func (p *play) typed(text string) (bench.Decision, error) {
	v := value(p.tb, text)
	return p.do(bench.Verb{Name: bench.DoKey, Value: &v})
}

func eyePlay(t *testing.T, text string) *play {
	wheel := bench.Gauge{Name: "wheel-1", Role: "wheel", Known: bench.KnownKeyed, Sends: bench.SendsKey}
	p := newPlay(t, text, dial("dial-1", "indicator"), wheel)
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "anticlockwise"})
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "right"})
	p.ok(bench.Verb{Name: bench.DoNext})
	return p
}

// The lobe is come to in the running direction: short of the height, past it, and turned back onto it the wheel is not
// taken, each with a sentence; nothing is lost by being refused.
func TestAWheelIsReadOnlyInTheRunningDirection(t *testing.T) {
	p := eyePlay(t, lobe)
	if _, err := p.typed("40 deg"); err == nil || !strings.Contains(err.Error(), "no zero") {
		t.Fatalf("without a zero: %v", err)
	}
	p.shows("dial-1", "0.000 mm")
	p.ok(bench.Verb{Name: bench.DoZero})
	if got := bench.HandWords(p.sc, bench.SpotOf(p.sc)); got != "Turn anticlockwise, seen from the wheel on the right end." {
		t.Errorf("the hand is told: %q", got)
	}
	refused := func(value, want string) {
		t.Helper()
		if _, err := p.typed(value); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want %q", err, want)
		}
	}
	p.watched("dial-1", 0, 0.3, 0.93)
	refused("30 deg", "the gauge shows 0.930 mm, 0.070 mm short of the height: turn on in the running direction, then read the wheel")
	if got := p.sc.Coming.Says(); got != "0.070 mm to go." {
		t.Errorf("short of it: %q", got)
	}
	if said := p.watched("dial-1", 1.05); said != "past it: back a quarter turn, and up to it again in the running direction" {
		t.Errorf("past it there is said at the moment: %q", said)
	}
	refused("31 deg", "the gauge went past the height and shows 1.050 mm: back a quarter turn, and up to it again")
	p.watched("dial-1", 1.0) // turned back onto it
	refused("31 deg", "the gauge went past the height")
	p.watched("dial-1", 0.9, 1.0) // a little back, and up again: its lost motion is not taken up
	refused("31 deg", "the gauge went past the height")
	p.watched("dial-1", 0.2, 0.9, 1.01, 0.985) // up to it, and back by a hair
	refused("31 deg", "the crankshaft was turned back onto the height")
	p.watched("dial-1", 0.1, 0.8, 1.0)
	if got := p.sc.Coming.Says(); got != "Stop. Type the wheel." {
		t.Errorf("there: %q", got)
	}
	if _, err := p.typed("1 mm"); err == nil || !strings.Contains(err.Error(), "1 mm is a length, this step wants a angle") {
		t.Errorf("a length typed for the wheel: %v", err)
	}
	if _, err := p.typed("330.5 deg"); err != nil {
		t.Fatal(err)
	}
	b, step := p.sc.State.Current()
	r, _ := b.Step(step.ID).Last().Standing("inlet.low.opening", 1)
	if r.Mode != "crossings" || r.Gauge != "wheel-1" || !r.Keyed || r.Value.String() != "330.5 deg" {
		t.Errorf("kept: %+v", r.Reading)
	}
	// The higher height comes later on the rising flank: the wheel counts up, round the whole turn too.
	p.watched("dial-1", 1.0, 2.5, 4.0)
	refused("329 deg", "the wheel reads 329 deg here and read 330.5 deg at inlet.low.opening: in the running direction it counts up")
	if _, err := p.typed("5 deg"); err != nil {
		t.Fatal(err)
	}
	// Over the nose: the gauge rises first, and the height is passed falling.
	p.watched("dial-1", 4.0)
	refused("100 deg", "the gauge shows 4.000 mm, and has not come from before the height: read so it would be against the running direction")
	p.watched("dial-1", 6, 9.4, 9.1, 5)
	refused("200 deg", "short of the height")
	p.watched("dial-1", 4.0)
	if _, err := p.typed("207.5 deg"); err != nil {
		t.Fatal(err)
	}
	p.watched("dial-1", 3.0, 0.9)
	refused("241 deg", "the gauge went past the height and shows 0.900 mm")
	p.watched("dial-1", 2.0, 1.0)
	refused("205 deg", "the wheel reads 205 deg here and read 207.5 deg")
	if _, err := p.typed("240 deg"); err != nil {
		t.Fatal(err)
	}
	b, step = p.sc.State.Current()
	if last := b.Step(step.ID).Last(); last.Status != bench.PassIsClosed || len(last.Readings) != 4 {
		t.Errorf("the pass is %s with %d readings", last.Status, len(last.Readings))
	}
}

// A plain dial has no line: the height is watched by the eye, and the wheel is taken on the builder's word; what the wheel
// itself says against the direction is refused all the same.
func TestAPlainDialWatchesTheHeightToo(t *testing.T) {
	plain := bench.Gauge{Name: "plain", Role: "indicator", Known: bench.KnownKeyed, Sends: bench.SendsKey}
	p := newPlay(t, lobe, plain)
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "clockwise"})
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "left"})
	p.ok(bench.Verb{Name: bench.DoNext})
	if now, v := bench.NowOf(p.sc); now != bench.NowReading || v == nil || v.Name != bench.DoKey {
		t.Fatalf("the bench waits for %s, %+v", now, v)
	}
	if _, err := p.typed("330 deg"); err != nil {
		t.Fatal(err)
	}
	if _, err := p.typed("329 deg"); err == nil {
		t.Error("a wheel that goes back is taken")
	}
}

// The question is put before the wheel is read, and once.
func TestTheRunningDirectionIsAskedOnce(t *testing.T) {
	p := newPlay(t, lobe, dial("dial-1", "indicator"))
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "cam"}})
	if got := bench.StatusOf(p.sc, nil, nil).Hinders; !strings.Contains(got, "Which way does it run?") {
		t.Errorf("before the answer: %q", got)
	}
}

const stopsPlan = head + eyeAsks + `
[[step]]
id = "valves"
title = "Valves"
do = "Push it."
phase = "dry"
kind = "measure"
capture = { mode = "stops", role = "indicator", parallax = "0.2 deg" }
[[step.point]]
along = { angle = ["0 deg", "5 deg", "10 deg"] }
id = "inlet.at{angle}"
`

// push turns at a stop: the valve is pushed to contact and let go.
func (p *play) push(apart float64) {
	p.tb.Helper()
	p.shows("dial-1", "0.000 mm")
	p.ok(bench.Verb{Name: bench.DoSweep})
	for _, x := range []float64{0, apart / 2, apart, 0} {
		p.shows("dial-1", fmt.Sprintf("%.3f mm", x))
		p.sc.Sweep.Add("dial-1", p.sc.Newest["dial-1"])
	}
	p.ok(bench.Verb{Name: bench.DoSweep})
}

// Stops go on in the running direction. One that lies before the last is told at the moment, and asked about.
func TestStopsGoOnInTheRunningDirection(t *testing.T) {
	p := eyePlay(t, stopsPlan)
	p.push(3.0)
	p.push(2.6)
	b, step := p.sc.State.Current()
	r, _ := b.Step(step.ID).Last().Standing("inlet.at5deg", 1)
	if r.Mode != string(plan.Stops) || r.Value.String() != "2.600 mm" {
		t.Errorf("kept: %s %s", r.Mode, r.Value)
	}
	p.ok(bench.Verb{Name: bench.DoRetake, Place: &bench.Place{Point: "inlet.at0deg"}})
	if got := bench.HandWords(p.sc, bench.SpotOf(p.sc)); !strings.Contains(got, "This stop lies before the last one: back a quarter turn first") {
		t.Errorf("going back, the hand is told: %q", got)
	}
	p.push(3.1)
	asked := bench.StatusOf(p.sc, nil, nil).Asked
	if len(asked) != 1 || !strings.Contains(asked[0].Words, "0 deg was read after 5 deg. Did you go back a quarter turn") {
		t.Fatalf("asked: %+v", asked)
	}
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: bench.AsRead})
	if sp := bench.SpotOf(p.sc); sp.Place.Point != "inlet.at10deg" {
		t.Errorf("then comes %s", sp.Place.Point)
	}
}

// A positive stop is met before the top turning forward and after it turning back; the wrong side is refused.
func TestAStopReadOnTheWrongSideIsRefused(t *testing.T) {
	p := eyePlay(t, head+eyeAsks+stepText("tdc", `{ mode = "keyed", role = "wheel", kind = "angle", parallax = "0.2 deg" }`, "",
		pointText("forward", `turned = "forward"`)+pointText("back", `turned = "back"`)))
	if _, err := p.typed("24.2 deg"); err != nil {
		t.Fatal(err)
	}
	_, err := p.typed("338.6 deg")
	if err == nil || !strings.Contains(err.Error(), "the stop turned back reads 338.6 deg and the one turned forward reads 24.2 deg: that is the wrong side of the top") {
		t.Fatalf("got %v", err)
	}
	if p.standing("forward") != "24.2 deg" {
		t.Error("the first reading is lost")
	}
	p.ok(bench.Verb{Name: bench.DoRetake, Place: &bench.Place{Point: "forward"}})
	if _, err := p.typed("338.6 deg"); err != nil {
		t.Fatal(err)
	}
	if got := bench.HandWords(p.sc, bench.SpotOf(p.sc)); got != "Turn back, against the running direction (it runs anticlockwise, seen from the wheel on the right end)." {
		t.Errorf("the hand is told: %q", got)
	}
	if _, err := p.typed("24.2 deg"); err != nil {
		t.Error(err)
	}
}

// A value typed where a turn is traced says nothing, and nothing is kept of it.
func TestAValueTypedAtATraceIsRefusedInWords(t *testing.T) {
	p := newPlay(t, head+stepText("cam", `{ mode = "trace", role = "indicator", angle = "angle" }`, "", pointText("left", "")), dial("dial-1", "indicator"), dial("angle-1", "angle"))
	_, err := p.typed("0.1000 in")
	if err == nil || !strings.Contains(err.Error(), "left is traced over a turn, with an angle to every value: one typed value says nothing there") {
		t.Errorf("got %v", err)
	}
	if b, step := p.sc.State.Current(); len(b.Step(step.ID).Passes) != 0 {
		t.Error("a pass was opened")
	}
}
