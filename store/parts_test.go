package store_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/ledgertest"
)

// madeLedger opens a ledger of so many entries, made of the kept build and of the first form.
func madeLedger(tb testing.TB, entries int) (*store.Store, string) {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), store.File)
	if _, err := ledgertest.Read(tb).FirstForm(context.Background(), path, entries); err != nil {
		tb.Fatal(err)
	}
	return MustOpenAt(tb, path), path
}

// written writes out all that is in a state, plans by their titles, to hold it against another.
func written(tb testing.TB, s bench.State, builds ...*bench.Build) string {
	tb.Helper()
	if builds == nil {
		builds = s.Builds
	}
	verbs := s.Verbs.All()
	s.Verbs, s.Builds = bench.Verbs{}, nil
	out := []any{s, verbs}
	for _, b := range builds {
		c := *b
		c.Plan = nil
		out = append(out, b.Plan.Title, c)
	}
	text, err := json.MarshalIndent(out, "", " ")
	if err != nil {
		tb.Fatal(err)
	}
	return string(text)
}

// sameText fails where two texts differ, and shows the first line that does.
func sameText(tb testing.TB, what, want, got string) {
	tb.Helper()
	if want == got {
		return
	}
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(w), len(g)) {
		if w[i] != g[i] {
			tb.Errorf("%s: line %d is %q, want %q", what, i+1, g[i], w[i])
			return
		}
	}
	tb.Errorf("%s: %d lines, want %d", what, len(g), len(w))
}

// allAtOnce folds every entry with everything in memory: what a fold in parts is held against.
func allAtOnce(tb testing.TB, s *store.Store, upTo uint64) bench.State {
	tb.Helper()
	st := bench.State{Bench: ledgertest.Bench}
	fold := bench.Fold{Plans: &bench.Plans{}}
	err := s.EachEntry(context.Background(), ledgertest.Bench, store.Filter{OldestFirst: true, To: upTo}, func(r store.EntryRow) bool {
		var err error
		if st, err = fold.Apply(st, r.Entry); err != nil {
			tb.Fatal(err)
		}
		return true
	})
	if err != nil {
		tb.Fatal(err)
	}
	return st
}

// A ledger of more builds than are kept in memory: the state loaded whole, and from a snapshot taken in between, is what
// folding everything at once gives, but for the builds that are not in memory.
func TestAStateInPartsIsTheWholeFold(t *testing.T) {
	ctx := context.Background()
	s, path := madeLedger(t, 11*957)
	whole, err := s.Load(ctx, ledgertest.Bench)
	if err != nil {
		t.Fatal(err)
	}
	if whole.Whole == "" || len(whole.Odd) > 0 {
		t.Errorf("without a snapshot: whole %q, odd %v", whole.Whole, whole.Odd)
	}
	want := allAtOnce(t, s, 0)
	if len(want.Builds) <= bench.InWork || len(want.Index) != len(want.Builds) {
		t.Fatalf("%d builds are too few to mean anything", len(want.Builds))
	}
	want, _ = want.Rest(bench.InWork)
	all := written(t, want)
	sameText(t, "folded whole", all, written(t, whole.State))
	// In the middle of a build, and just after one was begun.
	for _, n := range []uint64{whole.Chain.N - 1500, whole.Chain.N - 3, whole.State.Builds[4].N} {
		row, err := s.Entry(ctx, ledgertest.Bench, n)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.WriteSnapshot(ctx, allAtOnce(t, s, n), bench.Chain{N: n, Seal: row.Seal}); err != nil {
			t.Fatal(err)
		}
		got, err := s.Load(ctx, ledgertest.Bench)
		if err != nil {
			t.Fatal(err)
		}
		if got.Whole != "" {
			t.Errorf("the snapshot of entry %d was not used: %s", n, got.Whole)
		}
		sameText(t, fmt.Sprintf("from the snapshot of entry %d", n), all, written(t, got.State))
		if !got.Results.Equal(whole.Results) || len(got.Results.All()) < 500 {
			t.Errorf("from the snapshot of entry %d: %d results, whole %d", n, len(got.Results.All()), len(whole.Results.All()))
		}
	}
	snapshotsRefused(t, s, path, whole, all)
}

// snapshotsRefused tries snapshots that must not be used.
func snapshotsRefused(t *testing.T, s *store.Store, path string, whole store.Loaded, all string) {
	t.Helper()
	ctx := context.Background()
	file := strings.TrimSuffix(path, ".db") + ".snapshot"
	good, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	other := whole.Chain
	other.Seal[3]++
	for name, put := range map[string]func() error{
		"a byte changed": func() error {
			return os.WriteFile(file, append(good[:len(good)-9:len(good)-9], []byte("1,\"work\":")...), 0o640)
		},
		"cut short":        func() error { return os.WriteFile(file, good[:len(good)/2], 0o640) },
		"empty":            func() error { return os.WriteFile(file, nil, 0o640) },
		"of another chain": func() error { return s.WriteSnapshot(ctx, whole.State, other) },
	} {
		if err := put(); err != nil {
			t.Fatal(err)
		}
		got, err := s.Load(ctx, ledgertest.Bench)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if got.Whole == "" {
			t.Errorf("%s: the snapshot was used", name)
		}
		sameText(t, name, all, written(t, got.State))
	}
}

// A build folded alone is the build that the whole fold has, whatever else went on.
func TestABuildAloneIsTheBuildOfTheFold(t *testing.T) {
	ctx := context.Background()
	s, _ := madeLedger(t, 3*957)
	want := allAtOnce(t, s, 0)
	for _, b := range want.Builds {
		got, results, err := s.Build(ctx, ledgertest.Bench, b.Job, store.Newest)
		if err != nil {
			t.Fatal(err)
		}
		sameText(t, "job "+b.Job, written(t, bench.State{}, b), written(t, bench.State{}, got))
		history, err := s.History(ctx, ledgertest.Bench, b.Job)
		if err != nil {
			t.Fatal(err)
		}
		if len(history) != 259 || len(results.All()) < 100 {
			t.Errorf("job %s: %d results of its history, %d in force", b.Job, len(history), len(results.All()))
		}
		alone, _, err := s.StateOf(ctx, ledgertest.Bench, b.Job)
		if err != nil {
			t.Fatal(err)
		}
		if own, ok := alone.Build(b.Job); !ok {
			t.Errorf("job %s is not in its own state", b.Job)
		} else {
			sameText(t, "job "+b.Job+" with its gauges", written(t, bench.State{}, b), written(t, bench.State{}, own))
		}
		if len(alone.Index) != len(want.Index) || len(alone.Gauges) != len(want.Gauges) {
			t.Errorf("job %s: %d builds listed, %d gauges; want %d and %d", b.Job, len(alone.Index), len(alone.Gauges), len(want.Index), len(want.Gauges))
		}
		here, err := s.Here(ctx, ledgertest.Bench)
		if err != nil || here != want.Place.Build {
			t.Errorf("the bench stands at %q, %v; want %q", here, err, want.Place.Build)
		}
	}
}

// The answer to a filter is the same as looking at every entry.
func TestFiltersAnswerAsLookingAtEachEntryWould(t *testing.T) {
	ctx := context.Background()
	s, _ := madeLedger(t, 2*957)
	all, err := s.Entries(ctx, ledgertest.Bench, store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	made := ledgertest.Read(t)
	hits := 0
	for _, build := range []string{"", made.Job(1)} {
		for _, step := range []string{"", "guide-clearance", "nowhere"} {
			for _, gauge := range []string{"", "dial-1", "nobody"} {
				for _, kind := range []bench.Kind{"", bench.ReadingTaken, bench.GaugeLost} {
					for _, text := range []string{"", "DIAL", "ea", "left.s", "nothing of the kind", `q"x`} {
						f := store.Filter{Build: build, Step: step, Gauge: gauge, Kind: kind, Text: text}
						var want []uint64
						for _, r := range all {
							if matches(f, r.Entry) {
								want = append(want, r.Entry.N)
							}
						}
						var got []uint64
						if err := s.EachEntry(ctx, ledgertest.Bench, f, func(r store.EntryRow) bool { got = append(got, r.Entry.N); return true }); err != nil {
							t.Fatal(err)
						}
						if !slices.Equal(got, want) {
							t.Errorf("%+v: %d entries, want %d", f, len(got), len(want))
						}
						hits += len(want)
					}
				}
			}
		}
	}
	if hits < 5000 {
		t.Errorf("%d hits are too few to mean anything", hits)
	}
}

// matches looks at an entry for what a filter wants, without any index.
func matches(f store.Filter, e bench.Entry) bool {
	gauge := ""
	switch {
	case e.Reading != nil:
		gauge = e.Reading.Gauge
	case e.Zero != nil:
		gauge = e.Zero.Gauge
	case e.Link != nil:
		gauge = e.Link.Gauge
	case e.Gauge != nil:
		gauge = e.Gauge.Name
	}
	words := []string{string(e.Kind), e.ID, e.Place.Build, e.Place.Step, e.Place.Point, e.By, e.Reason, e.Choice, e.Item, e.Initials, e.Refers}
	if r := e.Reading; r != nil {
		words = append(words, r.Gauge, r.Channel, r.Mode, r.Text)
	}
	if e.Zero != nil {
		words = append(words, e.Zero.Gauge, e.Zero.Text)
	}
	if g := e.Gauge; g != nil {
		words = append(words, g.Name, g.Profile, g.Role, g.Identity, g.Port)
	}
	if e.Link != nil {
		words = append(words, e.Link.Gauge, e.Link.Port)
	}
	if e.Build != nil {
		words = append(words, e.Build.Job, e.Build.Engine, e.Build.Plan)
	}
	if e.Question != nil {
		words = append(words, e.Question.Guard, e.Question.Words)
	}
	said := slices.ContainsFunc(words, func(w string) bool { return strings.Contains(strings.ToLower(w), strings.ToLower(f.Text)) })
	return (f.Build == "" || e.Place.Build == f.Build) && (f.Step == "" || e.Place.Step == f.Step) && (f.Gauge == "" || gauge == f.Gauge) &&
		(f.Kind == "" || e.Kind == f.Kind) && (f.Text == "" || said)
}

// Results are stored without what was asked, which is stored once however often it was asked, and all small.
func TestEqualRequestsAreStoredOnce(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), store.File)
	s := MustOpenAt(t, path)
	h := fill(t, s)
	for i := range 20 {
		m := h.reading(fmt.Sprintf("p%d", i), "0.4020")
		m.record(t, s, clearance(t, m.entry.N))
	}
	var runs, requests, size int
	for query, into := range map[string]*int{"SELECT count(*) FROM run": &runs, "SELECT count(*) FROM request": &requests, "SELECT avg(length(body)) FROM run": &size} {
		scan(t, path, query, into)
	}
	if runs != 21 || requests != 1 {
		t.Errorf("%d results with %d requests, want 21 and 1", runs, requests)
	}
	if size > 900 {
		t.Errorf("a result takes %d bytes", size)
	}
	history, err := s.History(ctx, benchName, "17")
	if err != nil || len(history) != 21 {
		t.Fatalf("%d results, %v", len(history), err)
	}
	if diff := cmp.Diff(stored(t, clearance(t, history[20].N)), history[20], sameResults); diff != "" {
		t.Errorf("read back (-want +got):\n%s", diff)
	}
}

// scan asks a ledger's file one thing.
func scan(tb testing.TB, path, query string, into any) {
	tb.Helper()
	db := mustDB(tb, path)
	defer db.Close()
	var f float64
	if err := db.QueryRow(query).Scan(&f); err != nil {
		tb.Fatal(err)
	}
	*into.(*int) = int(f)
}
