package store_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store"
)

// Many builds of a few engines, whose values change in between: each build folded from its own entries sees the record
// that the fold of everything gives it, the record is that fold's, a start without and with a snapshot loads the same,
// and verify finds the ledger whole.
func TestEnginesInPartsAreTheWholeFold(t *testing.T) {
	ctx := context.Background()
	s := MustOpenAt(t, filepath.Join(t.TempDir(), store.File))
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	chance := rand.New(rand.NewPCG(16, 1))
	h := &hand{tb: t}
	var want bench.State
	engines := []string{"twin 4", "twin 5", "single"}
	do := func(e bench.Entry) {
		m := h.make(e)
		m.record(t, s)
		if want, err = bench.Apply(want, m.entry); err != nil {
			t.Fatal(err)
		}
	}
	set := func() {
		v, err := quantity.Parse(fmt.Sprintf("0.%03d in", 10+chance.IntN(40)))
		if err != nil {
			t.Fatal(err)
		}
		name := []string{"guide_clearance", "ring_gap_top", "deck_wanted"}[chance.IntN(3)]
		do(bench.Entry{Kind: bench.EngineValues, By: "ab", Engine: &bench.EngineSet{Engine: engines[chance.IntN(3)],
			Values: []bench.EngineValue{{Name: name, Value: &v, Source: "measured"}}}})
	}
	for i := range 40 {
		job := fmt.Sprintf("job-%d", i)
		do(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: job, Engine: engines[chance.IntN(3)], Plan: "first-fit", Text: string(text)}})
		do(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: job, Step: "guide-clearance"}})
		for range chance.IntN(3) {
			set()
		}
		if chance.IntN(4) > 0 {
			do(bench.Entry{Kind: bench.BuildClosed, Place: bench.Place{Build: job}})
		}
	}
	if len(want.Recorded) != 3 {
		t.Fatalf("%d engines have a record", len(want.Recorded))
	}
	check := func(when string) {
		t.Helper()
		for _, b := range want.Builds {
			got, _, err := s.Build(ctx, benchName, b.Job, store.Newest)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(b.Record, got.Record); diff != "" {
				t.Errorf("%s, %s of %s (-folded with all +folded alone):\n%s", when, b.Job, b.Engine, diff)
			}
		}
		for _, name := range engines {
			got, err := s.Engine(ctx, benchName, name, store.Newest)
			g, _ := want.Record(name)
			if diff := cmp.Diff(g, got); err != nil || diff != "" {
				t.Errorf("%s, %s: %v\n%s", when, name, err, diff)
			}
		}
		rows, err := s.Engines(ctx, benchName)
		if diff := cmp.Diff(want.Recorded, rows); err != nil || diff != "" {
			t.Errorf("%s: engines %v\n%s", when, err, diff)
		}
	}
	check("recorded")
	loaded, err := s.Load(ctx, benchName)
	if err != nil || len(loaded.Odd) > 0 {
		t.Fatalf("loaded: %v, odd %v", err, loaded.Odd)
	}
	if err := s.WriteSnapshot(ctx, loaded.State, loaded.Chain); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		set()
	}
	again, err := s.Load(ctx, benchName)
	if err != nil || again.Whole != "" || len(again.Odd) > 0 {
		t.Fatalf("from the snapshot: %v, %q, odd %v", err, again.Whole, again.Odd)
	}
	if diff := cmp.Diff(want.Recorded, again.State.Recorded); diff != "" {
		t.Errorf("engines from the snapshot (-want +got):\n%s", diff)
	}
	for _, b := range again.State.Builds {
		all, _ := want.Build(b.Job)
		if diff := cmp.Diff(all.Record, b.Record); diff != "" {
			t.Errorf("%s from the snapshot (-want +got):\n%s", b.Job, diff)
		}
	}
	if rep, err := s.Verify(ctx, benchName, store.Check{}); err != nil || len(rep.Wrong) > 0 {
		t.Errorf("verify: %v %+v", err, rep)
	}
	// What is looked for beside the entries is made again as it was.
	if _, err := s.Rebuild(ctx, benchName, nil); err != nil {
		t.Fatal(err)
	}
	check("made again")
}
