package store_test

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/ledgertest"

	"github.com/google/go-cmp/cmp"
)

func TestReadingsWithTheirBytes(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	w := h.make(bench.Entry{Kind: bench.Withdrawn, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}, Refers: "0190-00000006"})
	w.record(t, s)
	got, err := s.Readings(ctx, benchName, store.Filter{Point: "left.s*"})
	if err != nil {
		t.Fatal(err)
	}
	zraw, zshows := inch(t, "0.0120"), inch(t, "0")
	want := []store.ReadingRow{{N: 6, ID: "0190-00000006", Kind: bench.ReadingTaken, At: 1_700_000_005_000_000,
		Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1, Point: "left.start", Seating: 1}, By: "pedal", Gauge: "dial-1", Mode: "press",
		Frames: [][]byte{[]byte("+0.4120 in\r\n")}, Text: "+0.4120 in", Raw: inch(t, "0.4120"), Zero: "0190-00000004", ZeroRaw: &zraw, ZeroShows: &zshows,
		// 0.4120 − 0.0120 + 0 = 0.4000 in = 101,600,000 tenths of a nanometre
		Value: quantity.OfLength(101_600_000, zraw.Unit, 4), Withdrawn: 8}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("readings (-want +got):\n%s", diff)
	}
}

func TestFilters(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	h.make(bench.Entry{Kind: bench.Dropped, Place: bench.Place{Build: "17"}, Item: `100% "odd" _washer_`}).record(t, s)
	numbers := func(f store.Filter) []uint64 {
		rows, err := s.Entries(ctx, benchName, f)
		if err != nil {
			t.Fatal(err)
		}
		var ns []uint64
		for _, r := range rows {
			ns = append(ns, r.Entry.N)
		}
		return ns
	}
	for _, tt := range []struct {
		name string
		f    store.Filter
		want []uint64
	}{
		{"newest first", store.Filter{Limit: 3}, []uint64{8, 7, 6}},
		{"oldest first", store.Filter{Limit: 2, OldestFirst: true}, []uint64{1, 2}},
		{"range", store.Filter{From: 3, To: 4}, []uint64{4, 3}},
		{"kind", store.Filter{Kind: bench.ReadingTaken}, []uint64{7, 6}},
		{"step", store.Filter{Step: "guide-clearance", Limit: 1}, []uint64{7}},
		{"build", store.Filter{Build: "17", Limit: 1}, []uint64{8}},
		{"another build", store.Filter{Build: "18"}, nil},
		{"point", store.Filter{Point: "left.contact"}, []uint64{7}},
		{"text", store.Filter{Text: "+0.4120"}, []uint64{6}},
		{"text with signs of its own", store.Filter{Text: `100% "ODD" _`}, []uint64{8}},
		{"a sign is no wildcard", store.Filter{Text: "%0.4120"}, nil},
		{"text does not find the form's own names", store.Filter{Text: "clock_ok"}, nil},
		{"text and limit", store.Filter{Text: "dial-1", Limit: 1}, []uint64{7}},
	} {
		if got := numbers(tt.f); !slices.Equal(got, tt.want) {
			t.Errorf("%s: entries %v, want %v", tt.name, got, tt.want)
		}
	}
	for text, want := range map[string]int{"+0.4120": 1, "DIAL-1": 2, "clock_ok": 0} {
		if rows, err := s.Readings(ctx, benchName, store.Filter{Text: text}); err != nil || len(rows) != want {
			t.Errorf("readings with %q: %d, %v; want %d", text, len(rows), err, want)
		}
	}
	if rows, err := s.Readings(ctx, benchName, store.Filter{Gauge: "dial-2"}); err != nil || len(rows) != 0 {
		t.Errorf("readings of a gauge that took none: %d, %v", len(rows), err)
	}
}

func TestOneEntryAndItsResults(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	row, err := s.Entry(ctx, benchName, 7)
	if err != nil {
		t.Fatal(err)
	}
	if row.Entry.Place.Point != "left.contact" || row.Seal != h.chain.Seal || !slices.Equal(row.Body[:1], []byte("{")) {
		t.Errorf("entry 7: %+v", row)
	}
	if _, err := s.Entry(ctx, benchName, 70); !errors.Is(err, store.ErrNotThere) {
		t.Errorf("entry 70: %v, want ErrNotThere", err)
	}
	want := []bench.Result{stored(t, clearance(t, 7))}
	for name, ask := range map[string]func() ([]bench.Result, error){
		"using":   func() ([]bench.Result, error) { return s.Using(ctx, benchName, "0190-00000006") },
		"history": func() ([]bench.Result, error) { return s.History(ctx, benchName, "17") },
	} {
		got, err := ask()
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got, sameResults); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	if got, err := s.Using(ctx, benchName, "0190-00000001"); err != nil || got != nil {
		t.Errorf("results using an entry that is no reading: %v, %v", got, err)
	}
	counts, err := s.Count(ctx, benchName)
	if want := (store.Counts{Entries: 7, Readings: 2, Results: 1}); err != nil || counts != want {
		t.Errorf("counts %+v, %v; want %+v", counts, err, want)
	}
}

func TestTheNewestResultOfASlotIsInForce(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	m := h.reading("left.contact", "0.4025")
	newer := clearance(t, m.entry.N)
	newer.Because = "guide-clearance.left.contact was taken again"
	m.record(t, s, newer)
	l, err := s.Load(ctx, benchName)
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := l.Results.Get(newer.Slot()); len(l.Results.All()) != 1 || got.N != m.entry.N || got.Because == "" {
		t.Errorf("in force: %+v, want the one of entry %d", got, m.entry.N)
	}
	all, err := s.History(ctx, benchName, "17")
	if err != nil || len(all) != 2 || all[0].N != 7 || all[1].N != 8 {
		t.Errorf("history: %d results, %v; want those of 7 and 8", len(all), err)
	}
}

// What stands of a build is its history but for results that a later one took the place of, unless they were computed again
// because something earlier changed: those are told, without what was asked.
func TestWhatStandsOfABuild(t *testing.T) {
	ctx := context.Background()
	s := MustOpen(t)
	h := fill(t, s)
	for _, because := range []string{"the deck was read again", "", "", "the deck was read once more", ""} {
		m := h.reading("left.contact", "0.4025")
		r := clearance(t, m.entry.N)
		r.Because = because
		m.record(t, s, r)
	}
	all, err := s.History(ctx, benchName, "17")
	if err != nil || len(all) != 6 {
		t.Fatalf("%d results, %v; want 6", len(all), err)
	}
	want := []bench.Result{all[1], all[4], all[5]}
	for i := range want[:2] {
		want[i].Request = calc.Request{}
	}
	got, err := s.Standing(ctx, benchName, "17")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got, sameResults); diff != "" {
		t.Errorf("what stands (-history +got):\n%s", diff)
	}
}

// A sheet is made of what stands: that is enough only where it gives the results in force that all of the history gives, in
// ledgers of the first form, whose results hold their requests, too.
func TestWhatStandsIsWhatIsInForce(t *testing.T) {
	ctx := context.Background()
	s, _ := madeLedger(t, 2*957)
	builds, err := s.Builds(ctx, ledgertest.Bench)
	if err != nil || len(builds) == 0 {
		t.Fatal(builds, err)
	}
	for _, b := range builds {
		all, err := s.History(ctx, ledgertest.Bench, b.Job)
		if err != nil {
			t.Fatal(err)
		}
		standing, err := s.Standing(ctx, ledgertest.Bench, b.Job)
		if err != nil {
			t.Fatal(err)
		}
		if len(standing) == 0 || len(standing) >= len(all) {
			t.Errorf("job %s: %d of %d results stand", b.Job, len(standing), len(all))
		}
		if diff := cmp.Diff(bench.Results{}.With(all...).All(), bench.Results{}.With(standing...).All(), sameResults); diff != "" {
			t.Errorf("job %s (-all +standing):\n%s", b.Job, diff)
		}
	}
}

func TestQuarantined(t *testing.T) {
	ctx := context.Background()
	s := MustOpenAt(t, filepath.Join(t.TempDir(), "odd name? #1 %41.db"))
	body := []byte{0xff, 0x00, '{'}
	if err := s.Quarantine(ctx, benchName, body, "is no entry", store.Checkpoint{Generation: "g", Seq: 1}); err != nil {
		t.Fatal(err)
	}
	got, err := s.Quarantined(ctx, benchName)
	if err != nil || len(got) != 1 || !slices.Equal(got[0].Body, body) || got[0].Why != "is no entry" || got[0].At == 0 {
		t.Errorf("quarantined %+v, %v", got, err)
	}
}
