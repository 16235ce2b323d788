package service

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/store"
)

// With no time to work a bench is told by what it did before, or by its last entry; with time, those first that were never
// worked out: with one after the other none is left out for ever.
func TestDoingsInTurn(t *testing.T) {
	ctx := t.Context()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	chains := map[string]bench.Chain{}
	add := func(name string) hub.Report {
		t.Helper()
		e, body, err := chains[name].Number(bench.Entry{Bench: name, ID: NewID(), Kind: bench.HoursTold, At: time.Now().UnixMicro(), Life: &bench.Life{Engine: "twin", Hours: 1}})
		if err != nil {
			t.Fatal(err)
		}
		next, err := chains[name].Next(e, body)
		if err != nil {
			t.Fatal(err)
		}
		taking := store.Taking{Line: name, Entries: []store.TakenEntry{{Entry: e, Body: body, Seal: next.Seal}}}
		if chains[name].N == 0 {
			taking.Begin = &store.Line{Name: name}
		}
		if err := s.Take(ctx, []store.Taking{taking}); err != nil {
			t.Fatal(err)
		}
		chains[name] = next
		return hub.Report{Bench: name, Line: name, N: next.N}
	}
	forks, err := NewForks(s, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	d := NewDoings(forks)
	a, b := add("a"), add("b")
	says := func(patience time.Duration, wantA, wantB string) {
		t.Helper()
		got := d.Of(ctx, []hub.Report{a, b, {Bench: "c", Line: "c"}}, patience)
		if !strings.Contains(got["a"], wantA) || !strings.Contains(got["b"], wantB) || got["c"] != "nothing yet" {
			t.Errorf("%q; want %q, %q, nothing yet", got, wantA, wantB)
		}
	}
	says(-1, "entry 1; look again", "entry 1; look again")
	says(time.Minute, "no build on the bench; last entry ", "no build on the bench; last entry ")
	a = add("a")
	says(-1, "at entry 1: no build on the bench", "no build on the bench")
	says(time.Minute, "no build on the bench", "no build on the bench")
	if d.last["a"].n != 2 || d.last["a"].at <= d.last["b"].at {
		t.Errorf("%+v", d.last)
	}
}
