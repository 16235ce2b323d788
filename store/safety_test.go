package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"thoud/capture/bench"
	"thoud/store"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// copyFiles copies the ledger and its companions as they lie on the disk, as a power cut would leave them: the log
// first, so that the copy never holds pages of the main file that are newer than its log.
func copyFiles(tb testing.TB, from, to string) {
	tb.Helper()
	for _, ext := range []string{"", "-wal"} {
		b, err := os.ReadFile(from + ext)
		if errors.Is(err, os.ErrNotExist) && ext != "" {
			continue
		}
		if err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(to+ext, b, 0o600); err != nil {
			tb.Fatal(err)
		}
	}
}

// What was recorded is there after the process is gone, whatever was going on: a copy of the files taken after each
// commit, while the ledger stays open and its log is not written back, opens with every entry recorded so far.
func TestACutLosesNothingRecorded(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, store.File)
	s := MustOpenAt(t, path)
	h := &hand{tb: t}
	check := func(n uint64) {
		t.Helper()
		at := filepath.Join(dir, fmt.Sprintf("cut-%d.db", n))
		copyFiles(t, path, at)
		c, err := store.Open(ctx, at)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		l, err := c.Load(ctx, benchName)
		if err != nil {
			t.Fatal(err)
		}
		rep, err := c.Verify(ctx, benchName, store.Check{})
		if err != nil || len(slices.DeleteFunc(rep.Wrong, unnamed)) > 0 {
			t.Errorf("cut after entry %d: verify %v, %v", n, rep.Wrong, err)
		}
		if l.Chain != h.chain || l.Checkpoint.Seq != h.seq {
			t.Errorf("cut after entry %d: ledger ends with %d at sequence %d", n, l.Chain.N, l.Checkpoint.Seq)
		}
	}
	for _, m := range h.opening() {
		m.record(t, s)
	}
	for i := range 20 {
		m := h.reading(fmt.Sprintf("p%d", i), "0.1000")
		m.record(t, s)
		check(m.entry.N)
	}
}

// A log cut anywhere gives a ledger that is whole up to some entry: never half an entry, never a broken chain.
func TestATornLogGivesAWholeLedger(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	path := filepath.Join(dir, store.File)
	s := MustOpenAt(t, path)
	fill(t, s)
	wal, err := os.ReadFile(path + "-wal")
	if err != nil {
		t.Fatal(err)
	}
	main, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[uint64]bool{}
	for i := range 40 {
		cut := len(wal) * i / 40
		at := filepath.Join(dir, fmt.Sprintf("torn-%d.db", i))
		if err := errors.Join(os.WriteFile(at, main, 0o600), os.WriteFile(at+"-wal", wal[:cut], 0o600)); err != nil {
			t.Fatal(err)
		}
		c, err := store.Open(ctx, at)
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		l, err := c.Load(ctx, benchName)
		if err != nil {
			t.Fatalf("cut at %d: %v", cut, err)
		}
		rep, err := c.Verify(ctx, benchName, store.Check{})
		if err != nil || len(slices.DeleteFunc(rep.Wrong, unnamed)) > 0 || rep.Entries != int(l.Chain.N) || l.Checkpoint.Seq != l.Chain.N {
			t.Errorf("cut at %d: %d entries, checkpoint %d, wrong %v, %v", cut, rep.Entries, l.Checkpoint.Seq, rep.Wrong, err)
		}
		seen[l.Chain.N] = true
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if len(seen) < 4 {
		t.Errorf("the cuts met %d different ends, too few to mean anything", len(seen))
	}
}

func TestBackupWhileRecording(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s := MustOpenAt(t, filepath.Join(dir, store.File))
	h := fill(t, s)
	var wg sync.WaitGroup
	stop := make(chan struct{})
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				return
			default:
				h.reading(fmt.Sprintf("p%d", i), "0.1000").record(t, s)
			}
		}
	})
	for i := range 5 {
		file := filepath.Join(dir, fmt.Sprintf("backup-%d.db", i))
		var done, total int
		if err := s.Backup(ctx, file, func(d, t int) { done, total = d, t }); err != nil {
			t.Fatal(err)
		}
		if done == 0 || done != total {
			t.Errorf("progress ended at %d of %d", done, total)
		}
		r, err := store.OpenReadOnly(ctx, file)
		if err != nil {
			t.Fatal(err)
		}
		if n, err := r.Count(ctx, benchName); err != nil || n.Entries < 7 {
			t.Errorf("backup %d, read: %+v, %v", i, n, err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		if beside, _ := filepath.Glob(file + "?*"); len(beside) > 0 {
			t.Errorf("backup %d is not one file: %v", i, beside)
		}
		c, err := store.Open(ctx, file)
		if err != nil {
			t.Fatal(err)
		}
		rep, err := c.Verify(ctx, benchName, store.Check{})
		if err != nil || len(slices.DeleteFunc(rep.Wrong, unnamed)) > 0 || rep.Entries < 7 {
			t.Errorf("backup %d: %d entries, wrong %v, %v", i, rep.Entries, rep.Wrong, err)
		}
		if err := c.Close(); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	wg.Wait()
	file := filepath.Join(dir, "backup-0.db")
	before, _ := os.ReadFile(file)
	if err := s.Backup(ctx, file, nil); !errors.Is(err, os.ErrExist) {
		t.Errorf("backup over a file that is there: %v, want ErrExist", err)
	}
	if after, _ := os.ReadFile(file); string(before) != string(after) {
		t.Error("the file that was there has changed")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*.part")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// projections dumps what Rebuild makes.
func projections(tb rapid.TB, path string) []string {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		tb.Fatal(err)
	}
	defer db.Close()
	var out []string
	for _, q := range []string{
		"SELECT format('%s %d %s %s %s %d %s %d %s %.17g %d', bench, n, id, build, step, pass, point, seating, gauge, base, withdrawn) FROM reading ORDER BY n",
		"SELECT format('%s %s %s %d %s %d %s %d %s %d ', bench, build, step, pass, key, n, method, version, verdict, provisional) || hex(body) FROM result ORDER BY n, key",
		"SELECT format('%s %s %s %d', reading, build, key, n) FROM result_reading JOIN result ON result.id = result ORDER BY 1",
	} {
		rows, err := db.Query(q)
		if err != nil {
			tb.Fatal(err)
		}
		for rows.Next() {
			var line string
			if err := rows.Scan(&line); err != nil {
				tb.Fatal(err)
			}
			out = append(out, line)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			tb.Fatal(err)
		}
	}
	return out
}

// However readings are taken and withdrawn, the projections made again are those made entry by entry.
func TestRebuildMakesTheSame(t *testing.T) {
	ctx := context.Background()
	compute := func(after bench.State, e bench.Entry, _ bench.Results) []bench.Result {
		if e.Kind != bench.ReadingTaken || e.N%3 != 0 || after.N != e.N {
			return nil
		}
		r := clearance(t, e.N)
		r.Key, r.Readings = e.Place.Point, []string{e.ID}
		return []bench.Result{r}
	}
	dir := t.TempDir()
	round := 0
	rapid.Check(t, func(rt *rapid.T) {
		round++
		path := filepath.Join(dir, fmt.Sprintf("%d.db", round))
		s, err := store.Open(ctx, path)
		if err != nil {
			rt.Fatal(err)
		}
		defer s.Close()
		h := &hand{tb: t}
		state := bench.State{Bench: benchName}
		put := func(m message) {
			var err error
			if state, err = bench.Apply(state, m.entry); err != nil {
				rt.Fatal(err)
			}
			if err := s.Record(ctx, benchName, m.entry, m.body, m.seal, compute(state, m.entry, bench.Results{}), m.cp); err != nil {
				rt.Fatal(err)
			}
		}
		for _, m := range h.opening() {
			put(m)
		}
		var taken []string
		for range rapid.IntRange(1, 12).Draw(rt, "entries") {
			if len(taken) > 0 && rapid.IntRange(0, 3).Draw(rt, "what") == 0 {
				i := rapid.IntRange(0, len(taken)-1).Draw(rt, "which")
				put(h.make(bench.Entry{Kind: bench.Withdrawn, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}, Refers: taken[i]}))
				continue
			}
			m := h.reading(rapid.SampledFrom([]string{"left.start", "left.contact", "right.start"}).Draw(rt, "point"),
				fmt.Sprintf("0.%04d", rapid.IntRange(0, 9999).Draw(rt, "raw")))
			put(m)
			taken = append(taken, m.entry.ID)
		}
		want := projections(rt, path)
		for name, c := range map[string]store.Compute{"with results": compute, "without": nil} {
			tamper(t, path, "UPDATE reading SET base = 7, withdrawn = 1 WHERE n = (SELECT max(n) FROM reading)")
			if cmp.Equal(want, projections(rt, path)) {
				rt.Fatal("the damage did nothing")
			}
			if _, err := s.Rebuild(ctx, benchName, c); err != nil {
				rt.Fatal(err)
			}
			if diff := cmp.Diff(want, projections(rt, path)); diff != "" {
				rt.Errorf("%s (-recorded +rebuilt):\n%s", name, diff)
			}
		}
	})
}
