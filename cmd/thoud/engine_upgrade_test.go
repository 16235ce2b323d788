package main

import (
	"path/filepath"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// A build that an older program made has no record: what it confirmed counts in it as before, is offered to the record of
// its engine with one press, and then the next build of that engine asks for nothing but what its plan has new.
func TestAnOlderBuildIsOfferedToTheRecord(t *testing.T) {
	ctx := t.Context()
	s, err := store.Open(ctx, filepath.Join(unpackLedger(t, "second-round"), service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	name, err := s.Bench(ctx)
	if err != nil {
		t.Fatal(err)
	}
	l, err := s.Load(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	old := l.State.Builds[0]
	for _, step := range old.Plan.Steps {
		if left := bench.Unconfirmed(old, step); old.Step(step.ID).Entered && len(left) > 0 {
			t.Errorf("%s of the older build asks again for %d values", step.ID, len(left))
		}
	}
	offered := old.Offered()
	if old.Record != nil || len(offered.Values) < 100 {
		t.Fatalf("%d values are offered of an older build with record %v", len(offered.Values), old.Record)
	}

	asks := func(sc bench.Scene, job string) int {
		t.Helper()
		sc = done(t, sc, bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Engine: old.Engine, Plan: old.Started.Plan, Text: old.Text}})
		b, _ := sc.State.Build(job)
		return len(bench.Unconfirmed(b, b.Plan.Steps[0]))
	}
	sc := bench.Scene{State: l.State, Results: l.Results}
	before := asks(sc, "before")
	sc = done(t, sc, bench.Verb{Name: bench.DoEngineSet, Engine: &offered})
	after := asks(sc, "after")
	t.Logf("a second build on that plan asks for %d values without the record, for %d with it", before, after)
	if before < 100 || after > 7 {
		t.Errorf("asked for %d without the record and %d with it; want at most 7", before, after)
	}
	if again, _ := sc.State.Build(old.Job); len(again.Offered().Values) != 0 {
		t.Errorf("%d values are offered again", len(again.Offered().Values))
	}
	// On the plan as it ships today some values are new, and those are asked for.
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	sc = done(t, sc, bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "today", Engine: old.Engine, Plan: "pushrod-twin", Text: string(text)}})
	today, _ := sc.State.Build("today")
	for _, d := range today.Asked().Values {
		if v, ok := today.Record.Value(d.Name); ok && !v.Open && v.Against == nil {
			t.Errorf("%s is asked for, and was confirmed", d.Name)
		}
	}
}

// done decides a verb and folds what comes of it.
func done(t *testing.T, sc bench.Scene, v bench.Verb) bench.Scene {
	t.Helper()
	d, err := bench.Decide(sc, v)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range d.Entries {
		e.V, e.Bench, e.N, e.ID = bench.Version, sc.State.Bench, sc.State.N+1, service.NewID()
		if sc.State, err = bench.Apply(sc.State, e); err != nil {
			t.Fatal(err)
		}
	}
	return sc
}
