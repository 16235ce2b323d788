package capture

import (
	"context"
	"testing"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
)

// The values that were on their way when a sweep is ended belong to it.
func TestASweepIsHeardToItsEnd(t *testing.T) {
	l := NewLoop("rig", bench.State{Gauges: []bench.GaugeState{{Gauge: bench.Gauge{Name: "dial-1", Role: "indicator"}, Open: true}}}, bench.Chain{}, bench.Results{})
	l.Publisher = &fakeTeller{}
	l.newest.publisher, l.newest.now = l.Publisher, time.Now
	l.held.sweep = &bench.Sweep{Gauge: "dial-1"}
	for n := range int64(50) {
		l.lines <- line.Event{Gauge: "dial-1", Kind: line.Sample, Sample: devices.Sample{Value: quantity.OfLength(n, quantity.Base(quantity.Length), 3)}}
	}
	l.catchUp(context.Background())
	if got := len(l.held.sweep.Values); got != 50 {
		t.Errorf("the sweep has %d values, want 50", got)
	}
}

// A verdict that was overridden, with a reason, lets the build go on.
func TestNextGoesOnFromAnOverriddenVerdict(t *testing.T) {
	text := rigPlan("press", "", "") + `
    [step.compute]
    method = "statistics"
    per = "pass"
    [step.compute.inputs]
    values = ["@readings:*.a", "@readings:*.b"]
    [step.compute.limits]
    greatest = { upper = "0.001 in", source = "a test's" }
`
	inRig(t, text, bench.SendsStream, func(r *rig) {
		for range 4 {
			r.take("+0.5000 in")
		}
		r.loop.Outcome(context.Background(), bench.Outcome{N: r.loop.State().N, Results: []bench.Result{
			{Build: "17", Step: "height", Pass: 1, Result: calc.Result{Verdict: calc.VerdictOut}}}})
		r.settle()
		r.ok(bench.Verb{Name: bench.DoOverride, Reason: "the old limit", Override: &bench.Override{What: "verdict", Name: "height"}})
		if got, want := r.no(bench.Verb{Name: bench.DoNext}), "this is the last step: sign it and close the build"; got != want {
			t.Errorf("next says %q, want %q", got, want)
		}
		if n := len(r.loop.State().Builds[0].Step("height").Passes); n != 1 {
			t.Errorf("%d passes, want 1", n)
		}
	})
}

// Swapped sides are asked about once in a pass, not again at its datum.
func TestSwappedSidesAreAskedAboutOnce(t *testing.T) {
	inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.0000 in")
		r.ok(bench.Verb{Name: bench.DoZero})
		for _, x := range []string{"+0.1000 in", "+0.5000 in", "+0.1100 in", "+0.5100 in", "+0.0000 in"} {
			r.take(x)
		}
		r.ok(bench.Verb{Name: bench.DoAgain})
		for _, x := range []string{"+0.5000 in", "+0.1000 in", "+0.5100 in", "+0.1100 in", "+0.0000 in"} {
			r.take(x)
		}
		asked := 0
		for _, kind := range r.kinds(0) {
			if kind == bench.Asked {
				asked++
			}
		}
		if asked != 1 {
			t.Errorf("asked %d times, want once", asked)
		}
	})
}
