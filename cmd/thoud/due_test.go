package main

import (
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// What is due is the same whether every open build is looked at or only those of which something may be due: while a time
// runs, and once all are over. Then a build that nobody ever closed is not folded for it any more; where it was not reckoned,
// or something was recorded since, it is.
func TestWhatIsDueNeedsNoLookAtWhatIsOver(t *testing.T) {
	ctx := t.Context()
	s, err := store.Open(ctx, filepath.Join(unpackLedger(t, "second-round"), service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	name, err := s.Bench(ctx)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := s.OpenSummaries(ctx, name)
	if err != nil || len(rows) != 1 {
		t.Fatalf("%d open builds, %v; want 1", len(rows), err)
	}
	b, results, err := s.Build(ctx, name, rows[0].Job, store.Newest)
	if err != nil {
		t.Fatal(err)
	}
	var last int64
	for _, c := range b.Clocks {
		last = max(last, c.Seen.At)
	}
	const hour, year = 3_600_000_000, 365 * 24 * 3_600_000_000
	reckoned := bench.Summarise(b, results)
	before := reckoned
	before.UpTo--
	for _, row := range []struct {
		name    string
		summary bench.Summary
		at      int64
		looked  int
	}{
		{"at its last entry", reckoned, last, 1}, {"an hour later", reckoned, last + hour, 1}, {"a year later", reckoned, last + year, 0},
		{"reckoned before its last entry", before, last + year, 1}, {"never reckoned", bench.Summary{}, last + year, 1},
	} {
		if err := s.Summarise(ctx, name, map[string]bench.Summary{b.Job: row.summary}); err != nil {
			t.Fatal(err)
		}
		now := bench.Moment{At: row.at}
		want := bench.DueOf(bench.State{}, []*bench.Build{b}, results, now)
		looked, own, err := service.OpenBuilds(ctx, s, name, bench.State{}, bench.Results{}, now)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, bench.DueOf(bench.State{}, looked, own, now)); diff != "" {
			t.Errorf("%s (-every build looked at +those that may):\n%s", row.name, diff)
		}
		if len(looked) != row.looked {
			t.Errorf("%s: %d builds were looked at, want %d", row.name, len(looked), row.looked)
		}
		if (len(want) > 0) != (row.at < last+year) {
			t.Errorf("%s: %d things are due", row.name, len(want))
		}
	}
}
