package store_test

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/store"

	"github.com/google/go-cmp/cmp"
)

// asOf is the work of another bench: the same entries under its name, with ids of its own choice.
func asOf(tb testing.TB, name string, all []message, id func(string) string) []store.TakenEntry {
	tb.Helper()
	var chain bench.Chain
	var out []store.TakenEntry
	for _, m := range all {
		e := m.entry
		e.Bench, e.ID = name, id(e.ID)
		if e.Refers != "" {
			e.Refers = id(e.Refers)
		}
		if e.Reading != nil && e.Reading.Zero != "" {
			r := *e.Reading
			r.Zero = id(r.Zero)
			e.Reading = &r
		}
		e, body, err := chain.Number(e)
		if err == nil {
			chain, err = chain.Next(e, body)
		}
		if err != nil {
			tb.Fatal(err)
		}
		out = append(out, store.TakenEntry{Entry: e, Body: body, Seal: chain.Seal})
	}
	return out
}

// At a hub an id is a bench's own: one that holds another's ledger and sends entries of the same ids, before the other's come,
// keeps nothing of the other's out, whatever it makes of those ids. Each bench's readings, zeros and withdrawals are its own.
func TestIDsAreABenchsOwnAtAHub(t *testing.T) {
	ctx := t.Context()
	h := &hand{tb: t}
	work := append(h.opening(), h.reading("left.start", "0.4120"), h.reading("left.contact", "0.4020"))
	work = append(work, h.make(bench.Entry{Kind: bench.Withdrawn, Place: h.place(), Refers: work[5].entry.ID}))
	same := func(id string) string { return id }
	path := filepath.Join(t.TempDir(), store.File)
	s := MustOpenAt(t, path)
	for _, l := range []struct {
		line string
		id   func(string) string
	}{
		{"bold", same},
		{"bolder", func(id string) string { return "bench-1/" + id }}, // as another's would be told apart
		{"boldest", func(id string) string { return "boldest/" + id }},
		{"bench-1", same},
		{"bench-2", same},
	} {
		taken := asOf(t, l.line, work, l.id)
		if err := s.Take(ctx, []store.Taking{{Line: l.line, Begin: &store.Line{Name: l.line}, Entries: taken}}); err != nil {
			t.Fatalf("what bench %s has is not taken: %v", l.line, err)
		}
		idsAreOwn(t, s, l.line, l.id, taken)
	}
	// Made anew from the entries, the rows are the same.
	for _, line := range []string{"bold", "bench-1"} {
		before, err := s.Readings(ctx, line, store.Filter{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.Rebuild(ctx, line, nil); err != nil {
			t.Fatal(err)
		}
		after, err := s.Readings(ctx, line, store.Filter{})
		if diff := cmp.Diff(before, after); diff != "" || err != nil {
			t.Errorf("readings of %s after a rebuild (-before +after, %v):\n%s", line, err, diff)
		}
		verified(t, s, line)
	}
	// The same bench is held to its own: an entry that is there already, and another one of the same id.
	again := asOf(t, "bench-2", append(work, work[6]), same)
	for what, e := range map[string]store.TakenEntry{"the same": again[3], "another of one id": again[len(work)]} {
		if err := s.Take(ctx, []store.Taking{{Line: "bench-2", Entries: []store.TakenEntry{e}}}); !errors.Is(err, store.ErrKnown) {
			t.Errorf("%s: %v, want ErrKnown", what, err)
		}
	}
}

// idsAreOwn holds what is found of a line by ids against what was taken.
func idsAreOwn(t *testing.T, s *store.Store, line string, id func(string) string, taken []store.TakenEntry) {
	t.Helper()
	ctx := context.Background()
	for _, e := range taken {
		row, err := s.EntryOf(ctx, line, e.Entry.ID)
		if err != nil || row.Entry.N != e.Entry.N || row.Seal != e.Seal {
			t.Errorf("entry %s of %s: number %d, %v; want %d", e.Entry.ID, line, row.Entry.N, err, e.Entry.N)
		}
		if there, err := s.Has(ctx, line, e.Entry.ID); err != nil || !there {
			t.Errorf("entry %s of %s is not there (%v)", e.Entry.ID, line, err)
		}
	}
	if there, err := s.Has(ctx, "nobody", taken[0].Entry.ID); err != nil || there {
		t.Errorf("an entry of another bench is there (%v)", err)
	}
	rows, err := s.Readings(ctx, line, store.Filter{OldestFirst: true})
	if err != nil || len(rows) != 2 {
		t.Fatalf("readings of %s: %d, %v", line, len(rows), err)
	}
	if got := rows[0]; got.ID != id("0190-00000006") || got.Withdrawn != 8 || got.ZeroRaw == nil || rows[1].Withdrawn != 0 {
		t.Errorf("readings of %s: %+v", line, rows)
	}
	verified(t, s, line)
}

func verified(t *testing.T, s *store.Store, line string) {
	t.Helper()
	rep, err := s.Verify(context.Background(), line, store.Check{})
	if err != nil {
		t.Fatal(err)
	}
	var wrong []string
	for _, f := range rep.Wrong {
		wrong = append(wrong, f.Row+": "+f.What)
	}
	if len(wrong) > 0 || rep.Readings != 2 {
		t.Errorf("verify of %s: %d readings, wrong: %s", line, rep.Readings, strings.Join(wrong, "; "))
	}
}

// A bench's own ledger has one bench: there an id is nobody else's, and one that is there already is refused as ever.
func TestAnIDTwiceIsRefusedAtABench(t *testing.T) {
	ctx := t.Context()
	s := MustOpen(t)
	h := fill(t, s)
	m := h.make(bench.Entry{Kind: bench.Answered, Place: h.place(), Reason: "again"})
	other := asOf(t, benchName, []message{m}, func(string) string { return "0190-00000003" })[0]
	err := s.Record(ctx, benchName, other.Entry, other.Body, other.Seal, nil, m.cp)
	if !errors.Is(err, store.ErrKnown) {
		t.Errorf("%v, want ErrKnown", err)
	}
}
