package main

import (
	"crypto/sha256"
	"database/sql"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/hub"
	"thoud/store"
)

// copyWatch looks at a bench's ledger and at a hub's while both work: when each entry was seen first in either. A file that is
// put in the other's place is opened anew.
type copyWatch struct {
	tb       testing.TB
	own, hub looked

	files sync.Mutex // held while ledgers are looked at
	left  bool       // the bench's own is not looked at: its files are being changed

	mu     sync.Mutex
	at     map[uint64]time.Time // seen at the bench, not yet at the hub
	late   time.Duration        // the worst since it was asked last
	count  int
	ownEnd uint64
	hubEnd uint64          // of the line that the bench goes on with
	alarms map[string]bool // in words
	stop   chan struct{}
	once   sync.Once
	done   sync.WaitGroup
}

// looked is a ledger that is looked at, by the name of a bench.
type looked struct {
	dir, bench string
	db         *sql.DB
	file       os.FileInfo
}

func (l *looked) close() {
	if l.db != nil {
		_ = l.db.Close()
	}
	l.db = nil
}

// end is the last entry of the newest line; false where the ledger cannot be read now.
func (l *looked) end() (uint64, bool) {
	path := filepath.Join(l.dir, store.File)
	info, err := os.Stat(path)
	if err != nil {
		l.close()
		return 0, false
	}
	if l.db == nil || !os.SameFile(info, l.file) {
		l.close()
		if l.db, err = sql.Open("sqlite", "file:"+path+"?mode=ro&_pragma=busy_timeout(2000)"); err != nil {
			return 0, false
		}
		l.db.SetMaxOpenConns(1)
		l.file = info
	}
	// A bench's own ledger has no lines, a hub's has one for each history.
	line := l.bench
	err = l.db.QueryRow("SELECT bench FROM line WHERE bench = ? OR bench GLOB ? ORDER BY length(bench) DESC, bench DESC LIMIT 1", l.bench, l.bench+"~*").Scan(&line)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, false
	}
	var n uint64
	err = l.db.QueryRow("SELECT coalesce(max(n), 0) FROM entry WHERE bench = ?", line).Scan(&n)
	return n, err == nil && n > 0
}

func watchCopy(tb testing.TB, benchDir, hubDir, benchName string) *copyWatch {
	w := &copyWatch{tb: tb, own: looked{dir: benchDir, bench: benchName}, hub: looked{dir: hubDir, bench: benchName},
		at: map[uint64]time.Time{}, alarms: map[string]bool{}, stop: make(chan struct{})}
	w.done.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-w.stop:
				w.own.close()
				w.hub.close()
				return
			case <-time.After(10 * time.Millisecond):
			}
			w.look()
			if i%20 == 0 {
				w.hear()
			}
		}
	})
	tb.Cleanup(w.close)
	return w
}

func (w *copyWatch) close() {
	w.once.Do(func() { close(w.stop) })
	w.done.Wait()
}

// leave lets go of the bench's own ledger, or takes it up again. Who has it open keeps its log from being brought into it, and
// must not be there when a file of it is put in another's place.
func (w *copyWatch) leave(yes bool) {
	w.files.Lock()
	defer w.files.Unlock()
	if w.left = yes; yes {
		w.own.close()
	}
}

func (w *copyWatch) ends() (copied, own uint64, okHub, okOwn bool, at time.Time) {
	w.files.Lock()
	defer w.files.Unlock()
	copied, okHub = w.hub.end()
	at = time.Now()
	if !w.left {
		own, okOwn = w.own.end()
	}
	return copied, own, okHub, okOwn, at
}

func (w *copyWatch) look() {
	copied, own, okHub, okOwn, now := w.ends()
	w.mu.Lock()
	defer w.mu.Unlock()
	if okOwn {
		if own < w.ownEnd { // it was put back: what it does from here on is new
			w.at, w.ownEnd = map[uint64]time.Time{}, own
		}
		for n := w.ownEnd + 1; n <= own; n++ {
			w.at[n] = now
			w.count++
		}
		w.ownEnd = own
	}
	if !okHub {
		return
	}
	w.hubEnd = copied
	for n, at := range w.at {
		if n <= copied {
			w.late = max(w.late, now.Sub(at))
			delete(w.at, n)
		}
	}
}

// hear collects what the hub says is wrong.
func (w *copyWatch) hear() {
	r, err := service.ReadHubReport(w.hub.dir)
	if err != nil {
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, b := range r.Benches {
		for _, words := range b.Alarms {
			w.alarms[words] = true
		}
	}
}

// begin forgets what was seen until now.
func (w *copyWatch) begin() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.late, w.count, w.alarms = 0, 0, map[string]bool{}
}

// caughtUp waits until the hub has what the bench has when it is called. (A second history is caught up with where the hub
// follows it.)
func (w *copyWatch) caughtUp(patience time.Duration) (uint64, bool) {
	w.mu.Lock()
	want := w.ownEnd
	w.mu.Unlock()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		w.mu.Lock()
		got := w.hubEnd
		w.mu.Unlock()
		if got >= want {
			return want, true
		}
	}
	return want, false
}

func (w *copyWatch) told() (entries int, late time.Duration, alarms []string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, at := range w.at { // not there yet
		w.late = max(w.late, time.Since(at))
	}
	return w.count, w.late, slices.Sorted(maps.Keys(w.alarms))
}

// sealedRow is an entry as it lies in a ledger.
type sealedRow struct {
	line string
	n    uint64
	id   string
	body [32]byte
	seal bench.Seal
}

// entriesOf reads the entries of a bench, or of all its lines.
func entriesOf(tb testing.TB, dir, benchName string) []sealedRow {
	tb.Helper()
	db := openHub(tb, dir)
	defer db.Close() // who has a ledger open keeps its log from being brought into it
	rows, err := db.Query("SELECT bench, n, id, body, seal FROM entry WHERE bench = ? OR bench GLOB ? ORDER BY bench, n", benchName, benchName+"~*")
	if err != nil {
		tb.Fatal(err)
	}
	defer rows.Close()
	var out []sealedRow
	for rows.Next() {
		var r sealedRow
		var body, seal []byte
		if err := rows.Scan(&r.line, &r.n, &r.id, &body, &seal); err != nil {
			tb.Fatal(err)
		}
		r.body, r.seal = sha256.Sum256(body), bench.Seal(seal)
		out = append(out, r)
	}
	if err := rows.Err(); err != nil {
		tb.Fatal(err)
	}
	return out
}

// held is what a hub's copy is held against: how many of a bench's entries are not there as they are at the bench, and how
// many are there twice.
func held(tb testing.TB, benchDir, hubDir, benchName string, upTo uint64) (lost, twice int) {
	tb.Helper()
	type key struct {
		n    uint64
		seal bench.Seal
		body [32]byte
	}
	there, ids := map[key]bool{}, map[string]int{}
	for _, r := range entriesOf(tb, hubDir, benchName) {
		there[key{r.n, r.seal, r.body}] = true
		if ids[r.id]++; ids[r.id] > 1 {
			twice++
		}
	}
	for _, r := range entriesOf(tb, benchDir, benchName) {
		if r.n <= upTo && !there[key{r.n, r.seal, r.body}] {
			lost++
		}
	}
	return lost, twice
}

// sealed walks each line of a bench at a hub from its beginning: every entry follows the one before it, by number and seal.
func sealed(tb testing.TB, hubDir, benchName string) (entries int) {
	tb.Helper()
	s, err := store.OpenReadOnly(tb.Context(), filepath.Join(hubDir, store.File))
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	lines, err := s.Lines(tb.Context())
	if err != nil {
		tb.Fatal(err)
	}
	for _, l := range lines {
		if name, _ := hub.BenchOf(l.Name); name != benchName {
			continue
		}
		chain := l.Parted
		for chain.N < l.End.N {
			g, err := s.Span(tb.Context(), l.Name, chain.N+1, 1000, 1<<30)
			if err != nil || len(g.Bodies) == 0 {
				tb.Fatalf("%s after entry %d: %d entries, %v", l.Name, chain.N, len(g.Bodies), err)
			}
			for _, body := range g.Bodies {
				if chain.N == l.End.N { // what came since the lines were read
					break
				}
				e, err := bench.Decode(body)
				if err == nil {
					chain, err = chain.Next(e, body)
				}
				if err != nil {
					tb.Fatalf("%s after entry %d: %v", l.Name, chain.N, err)
				}
				entries++
			}
		}
		if chain != l.End {
			tb.Errorf("%s is sealed up to %v, it ends with %v", l.Name, chain, l.End)
		}
	}
	return entries
}

// standing is what is wrong now, as the hub says it.
func standing(hubDir string) string {
	r, err := service.ReadHubReport(hubDir)
	if err != nil {
		return err.Error()
	}
	var out []string
	for _, b := range r.Benches {
		out = append(out, slices.Sorted(maps.Values(b.Alarms))...)
	}
	return strings.Join(out, "; ")
}
