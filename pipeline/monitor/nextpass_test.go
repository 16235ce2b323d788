package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// angleTwice is one angle, beside a gauge of lengths.
const angleTwice = `title = "An angle"
version = 1
cylinders = ["left"]
[[step]]
id = "angle"
title = "The angle"
do = "Read the wheel."
phase = "dry"
kind = "measure"
view = "crank"
capture = { mode = "press", role = "indicator" }
    [[step.gauge]]
    name = "wheel"
    capture = { mode = "keyed", role = "wheel", kind = "angle" }
    [[step.point]]
    id = "one"
    gauge = "wheel"
    [step.compute]
    method = "statistics"
    shown = ["mean"]
    inputs = { values = "@readings:*" }
`

// TestAnAngleOpensTheNextPass: what is typed after a pass that is out belongs to the first point of the next one, and is of
// its kind: an angle, no length.
func TestAnAngleOpensTheNextPass(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "angle", angleTwice, "angle")
	f.show("0.5000")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1024, 768)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	most := 1.0
	out, err := calc.Run(calc.Request{Method: "statistics", Inputs: map[string]calc.Val{"values": {List: []calc.Num{{X: 5}}}}, Limits: map[string]calc.Limit{"mean": {Upper: &most}}})
	if err != nil || out.Verdict != calc.VerdictOut {
		t.Fatalf("5° is not out: %+v, %v", out, err)
	}
	for pass, keys := range []string{"5\r", "0.5\r"} {
		eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
		before := f.State().N
		do(t, ctx, press(keys))
		until(t, "the angle", func() bool { return f.State().N > before })
		shows(t, ctx, f)
		b, _ := f.State().Build("17")
		if last := b.Step("angle").Last(); last == nil || last.Number != pass+1 || last.Status != bench.PassIsClosed {
			t.Fatalf("pass %d: %+v", pass+1, last)
		}
		if pass == 0 {
			f.mu.Lock()
			f.results = f.results.With(bench.Result{Build: "17", Step: "angle", Pass: 1, N: f.state.N, At: 1, Result: out})
			f.tellLocked(monitor.Event{Outcome: &bench.Outcome{N: f.state.N}})
			f.mu.Unlock()
		}
	}
}
