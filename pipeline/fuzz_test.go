package pipeline_test

import (
	"encoding/json"
	"slices"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline"
)

// seeds are entries of every kind that a small build brings.
func seeds(f *testing.F) (before bench.State, chain bench.Chain, results bench.Results, bodies [][]byte) {
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		f.Fatal(err)
	}
	add := func(e bench.Entry, keep bool) {
		e.Bench, e.ID, e.ClockOK = "test", "id-"+string(e.Kind), true
		e, body, err := chain.Number(e)
		if err != nil {
			f.Fatal(err)
		}
		bodies = append(bodies, body)
		if !keep {
			return
		}
		if chain, err = chain.Next(e, body); err != nil {
			f.Fatal(err)
		}
		if before, err = bench.Apply(before, e); err != nil {
			f.Fatal(err)
		}
		results = results.With(pipeline.Compute(before, e, results)...)
	}
	v, err := quantity.Parse("0.1234 in")
	if err != nil {
		f.Fatal(err)
	}
	at := bench.Place{Build: "17", Step: "guide-clearance", Pass: 1, Point: "left.contact", Seating: 1}
	add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath}}, true)
	add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text)}}, true)
	add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "guide-clearance"}}, true)
	add(bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}}, true)
	add(bench.Entry{Kind: bench.ZeroSet, Place: at, Zero: &bench.Zero{Gauge: "dial-1", Raw: v, Shows: v}}, true)
	add(bench.Entry{Kind: bench.ReadingTaken, Place: at, Reading: &bench.Reading{Gauge: "dial-1", Mode: "press", Raw: v, Value: v, Frames: [][]byte{[]byte("+0.1234 in\r")}}}, true)
	at.Point = "left.start"
	add(bench.Entry{Kind: bench.ReadingTaken, Place: at, Reading: &bench.Reading{Gauge: "dial-1", Mode: "trace", Raw: v, Value: v,
		Samples: &bench.Samples{At: []int64{1, 2, 3}, Value: []int64{5, 6, 7}, Angle: []int64{0, 90_000, 180_000}, Unit: "in", Places: 4}}}, false)
	for _, e := range []bench.Entry{
		{Kind: bench.Withdrawn, Place: at, Refers: "id-reading", Reason: "slipped"}, {Kind: bench.PassClosed, Place: at}, {Kind: bench.PassVoid, Place: at},
		{Kind: bench.Overridden, Place: at, Override: &bench.Override{What: "engine", Name: "bore", Value: &v}}, {Kind: bench.Signed, Place: at, By: "AB"},
		{Kind: bench.BuildClosed, Place: at}, {Kind: bench.Dropped, Item: "a nut"}, {Kind: bench.GaugeRemoved, Item: "dial-1"},
	} {
		add(e, false)
	}
	return before, chain, results, bodies
}

// FuzzEntry decodes an entry of any bytes, folds it onto a bench in mid-pass and computes what it brings: nothing stops
// the recorder, the state before is left as it was, and every result can be written and read again.
func FuzzEntry(f *testing.F) {
	before, _, results, bodies := seeds(f)
	for _, b := range bodies {
		f.Add(b)
	}
	frozen, err := json.Marshal(before.Gauges)
	if err != nil {
		f.Fatal(err)
	}
	place := before.Place
	f.Fuzz(func(t *testing.T, body []byte) {
		if len(body) > 1<<20 {
			return // no message is longer
		}
		e, err := bench.Decode(body)
		if err != nil {
			return
		}
		next, err := bench.Apply(before, e)
		if err != nil && next.N != e.N {
			t.Fatalf("refused (%v), and the number is %d, want %d", err, next.N, e.N)
		}
		news := pipeline.Compute(next, e, results)
		for _, r := range news {
			text, err := json.Marshal(r)
			var again bench.Result
			if err == nil {
				err = json.Unmarshal(text, &again)
			}
			if err != nil {
				t.Fatalf("a result of %s: %v", r.Slot(), err)
			}
		}
		results.With(news...)
		now, err := json.Marshal(before.Gauges)
		if err != nil || !slices.Equal(now, frozen) || before.Place != place {
			t.Fatalf("the state before has changed: %v, %s", err, before.Place)
		}
	})
}
