package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store"

	"github.com/google/go-cmp/cmp"
)

func TestRecordThenLoad(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), store.File)
	s := MustOpenAt(t, path)
	h := &hand{tb: t}
	want := bench.State{Bench: benchName}
	for _, m := range append(h.opening(), h.reading("left.start", "0.4120")) {
		m.record(t, s)
		var err error
		if want, err = bench.Apply(want, m.entry); err != nil {
			t.Fatal(err)
		}
	}
	x := 0.25
	res := bench.Result{Build: "17", Step: "guide-clearance", Pass: 1, Key: "left", N: h.chain.N + 1, Provisional: true, Readings: []string{"0190-00000006"},
		Request: calc.Request{Method: "contact-clearance", Inputs: map[string]calc.Val{"start": {Num: &calc.Num{X: 1}}}},
		Result:  calc.Result{Method: "contact-clearance", Version: 1, Verdict: calc.VerdictIn, Figures: []calc.FigureResult{{Name: "move", Kind: quantity.Length, Value: &x}}}}
	m := h.reading("left.contact", "0.4020")
	m.record(t, s, res)
	want, err := bench.Apply(want, m.entry)
	if err != nil {
		t.Fatal(err)
	}

	for _, open := range []func() *store.Store{func() *store.Store { return s }, func() *store.Store {
		r, err := store.OpenReadOnly(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = r.Close() })
		return r
	}} {
		got, err := open().Load(ctx, benchName)
		if err != nil {
			t.Fatal(err)
		}
		wantLoaded := store.Loaded{State: want, Chain: h.chain, Results: bench.Results{}.With(lightly(t, res)), Checkpoint: m.cp, Recorded: m.entry.N, Whole: "there is no snapshot"}
		if diff := cmp.Diff(wantLoaded, got); diff != "" {
			t.Errorf("loaded (-want +got):\n%s", diff)
		}
	}
	if name, err := s.Bench(ctx); err != nil || name != benchName {
		t.Errorf("bench %q, %v; want %q", name, err, benchName)
	}
}

func TestRecordRefusesWhatDoesNotFollow(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := &hand{tb: t}
	first := h.make(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "a"}})
	second := h.make(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "b"}})
	third := h.make(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "c"}})
	first.record(t, s)

	try := func(m message) error {
		return s.Record(ctx, benchName, m.entry, m.body, m.seal, nil, m.cp)
	}
	if err := try(third); !errors.Is(err, bench.ErrFork) {
		t.Errorf("a number left out: %v, want ErrFork", err)
	}
	other := first
	other.seal[0]++
	if err := try(other); !errors.Is(err, store.ErrKnown) {
		t.Errorf("its id under another seal: %v, want ErrKnown", err)
	}
	forged := second
	forged.body = append([]byte(nil), second.body...)
	forged.body[len(forged.body)-2]++
	if err := try(forged); !errors.Is(err, bench.ErrFork) {
		t.Errorf("other bytes under the seal: %v, want ErrFork", err)
	}
	// A result that cannot be stored: its entry must not be either.
	bad := bench.Result{N: 99}
	if err := s.Record(ctx, benchName, second.entry, second.body, second.seal, []bench.Result{bad}, second.cp); err == nil {
		t.Error("a result of an entry that is not there was stored")
	}
	if has, err := s.Has(ctx, benchName, second.entry.ID); err != nil || has {
		t.Errorf("after a failed transaction the entry is there: %v, %v", has, err)
	}
	second.record(t, s)
	third.record(t, s)
	if has, err := s.Has(ctx, benchName, third.entry.ID); err != nil || !has {
		t.Errorf("third entry: %v, %v; want it there", has, err)
	}
}

// A commit whose answer was lost is tried again: nothing is there twice, and the checkpoint has moved.
func TestRecordedAgainIsRecordedOnce(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	m := h.reading("right.start", "0.4000")
	m.record(t, s, clearance(t, m.entry.N))
	m.cp.Seq++
	m.record(t, s, clearance(t, m.entry.N))
	l, err := s.Load(ctx, benchName)
	if err != nil || l.Chain != h.chain || l.Checkpoint != m.cp {
		t.Errorf("chain %d, checkpoint %+v, %v; want %d and %+v", l.Chain.N, l.Checkpoint, err, h.chain.N, m.cp)
	}
	if c, err := s.Count(ctx, benchName); err != nil || c != (store.Counts{Entries: 8, Readings: 3, Results: 2}) {
		t.Errorf("counts %+v, %v", c, err)
	}
}

func TestAdvanceAndQuarantineMoveTheCheckpoint(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	if err := s.Advance(ctx, benchName, store.Checkpoint{Generation: "g", Seq: 7}); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if err := s.Quarantine(ctx, benchName, nil, "empty message", store.Checkpoint{Generation: "g", Seq: 8}); err != nil {
			t.Fatal(err)
		}
	}
	l, err := s.Load(ctx, benchName)
	if err != nil {
		t.Fatal(err)
	}
	if want := (store.Checkpoint{Generation: "g", Seq: 8}); l.Checkpoint != want {
		t.Errorf("checkpoint %+v, want %+v", l.Checkpoint, want)
	}
}

func TestOpenSaysWhatIsWrong(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	text := filepath.Join(dir, "notes.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("these are notes\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(ctx, text); err == nil || !strings.Contains(err.Error(), "is no ledger") || !strings.Contains(err.Error(), text) {
		t.Errorf("opening a text file: %v", err)
	}
	if _, err := store.Open(ctx, filepath.Join(dir, "nowhere", "ledger.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("opening in a folder that is not there: %v", err)
	}
	if _, err := store.OpenReadOnly(ctx, filepath.Join(dir, "ledger.db")); !errors.Is(err, store.ErrNoLedger) {
		t.Errorf("reading a ledger that is not there: %v, want ErrNoLedger", err)
	}
}
