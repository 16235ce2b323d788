package main

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/store"
)

// served is a service that runs within the test, and a client of it.
type served struct {
	*bus.Client
	tb   testing.TB
	dir  string
	stop func() // ends the service and waits for it; may be called twice
	// stopWith does too, and hands on what it ended with.
	stopWith func(func(error))
	count    int
	place    bench.Place // of the last answer
}

// serve runs a service on a state folder until the test ends.
func serve(tb testing.TB, dir string) *served {
	tb.Helper()
	return serveWith(tb, dir, service.DefaultSettings())
}

func serveWith(tb testing.TB, dir string, cfg service.Settings) *served {
	tb.Helper()
	return serveAs(tb, &service.Service{Dir: dir, Settings: cfg, Log: zerolog.Nop()})
}

// serveAs runs a service as it is set up until the test ends.
func serveAs(tb testing.TB, s *service.Service) *served {
	tb.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	v := &served{tb: tb, dir: s.Dir}
	v.eventually("the service runs", func() bool {
		select {
		case err := <-ended:
			tb.Fatalf("service: %v", err)
		default:
		}
		c, err := bus.Dial(filepath.Join(s.Dir, service.SocketName), s.Settings.Bench)
		if err != nil {
			return false
		}
		if _, err := c.Status(ctx); err != nil {
			c.Close()
			return false
		}
		v.Client = c
		return true
	})
	stopped := false
	v.stopWith = func(hear func(error)) {
		if stopped {
			return
		}
		stopped = true
		v.Close()
		cancel()
		hear(<-ended)
	}
	v.stop = func() {
		v.stopWith(func(err error) {
			if err != nil {
				tb.Errorf("service stopped: %v", err)
			}
		})
	}
	tb.Cleanup(v.stop)
	return v
}

func (v *served) eventually(what string, is func() bool) {
	v.tb.Helper()
	for end := time.Now().Add(patience); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			v.tb.Fatalf("never: %s", what)
		}
	}
}

func (v *served) must(verb bench.Verb) bench.Answer {
	v.tb.Helper()
	if verb.ID == "" {
		verb.ID = service.NewID()
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	a, err := v.Do(ctx, verb)
	if err != nil || !a.OK {
		v.tb.Fatalf("%s: %v %s", verb.Name, err, a.Words)
	}
	return a
}

// begin registers a plain dial and starts a build of eight-point passes.
func (v *served) begin() {
	v.tb.Helper()
	v.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "plain", Known: bench.KnownKeyed, Role: "indicator", Sense: 1}})
	v.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "passes", Text: passPlan}})
}

// keyed is a typed reading; each is another value, all within the drift allowed.
func (v *served) keyed() bench.Verb {
	v.count++
	val := quantity.OfLength(int64(v.count%50)*quantity.PerMicrometre, quantity.Base(quantity.Length), 3)
	return bench.Verb{ID: service.NewID(), Name: bench.DoKey, Gauge: "plain", Value: &val}
}

// read takes so many readings, pass after pass.
func (v *served) read(n int) {
	v.tb.Helper()
	for range n {
		verb := v.keyed()
		v.eventually("another reading", func() bool { return v.try(verb) })
	}
}

// try takes one reading, or opens the next pass and says false.
func (v *served) try(verb bench.Verb) bool {
	v.tb.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	a, err := v.Do(ctx, verb)
	if err != nil {
		v.tb.Fatal(err)
	}
	if !a.OK {
		again := bench.Verb{ID: service.NewID(), Name: bench.DoAgain}
		if _, err := v.Do(ctx, again); err != nil { // refused until the result is there
			v.tb.Fatal(err)
		}
	}
	v.place = a.Place
	return a.OK
}

func (v *served) status() bench.Status {
	v.tb.Helper()
	st, err := v.Status(context.Background())
	if err != nil {
		v.tb.Fatal(err)
	}
	return st
}

// settled waits until what the client was answered is in the ledger, and gives the status.
func (v *served) settled(n uint64) (st bench.Status) {
	v.tb.Helper()
	v.eventually(fmt.Sprintf("entry %d in the ledger", n), func() bool { st = v.status(); return st.N >= n })
	return st
}

// whole checks a ledger at rest: seals, results, projections, the fold, and the number of readings.
func whole(tb testing.TB, dir string, readings int) store.Report {
	tb.Helper()
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	rep, err := s.Verify(ctx, "bench", service.Check())
	if err != nil || len(rep.Wrong) > 0 {
		tb.Errorf("verify: %v %v", err, rep.Wrong)
	}
	l, err := s.Load(ctx, "bench")
	if err != nil || len(l.Odd) > 0 {
		tb.Errorf("fold: %v %v", err, l.Odd)
	}
	if rep.Readings != readings {
		tb.Errorf("%d readings in the ledger, %d were taken", rep.Readings, readings)
	}
	return rep
}

// troubled looks for words among the troubles that the status tells.
func (v *served) troubled(words string) {
	v.tb.Helper()
	var all []string
	for _, n := range v.status().Troubles {
		if strings.Contains(n.Words, words) {
			return
		}
		all = append(all, n.Words)
	}
	v.tb.Errorf("nothing says %q; the status tells of %q", words, all)
}

// Who was told that a reading is taken finds it in the ledger with the very next command.
func TestWhatIsTakenIsThere(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	s, err := store.OpenReadOnly(t.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for i := 1; i <= 7; i++ {
		verb := v.keyed()
		v.eventually("another reading", func() bool { return v.try(verb) })
		if c, err := s.Count(t.Context(), "bench"); err != nil || c.Readings != i {
			t.Fatalf("%d readings in the ledger after %d were answered as taken, %v", c.Readings, i, err)
		}
	}
}

// The stream's folder is taken away under a running service: it still ends when it is told to.
func TestItEndsAlthoughTheStreamIsGone(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(3)
	if err := os.RemoveAll(filepath.Join(dir, service.BusFolder)); err != nil {
		t.Fatal(err)
	}
	// What is open goes on for a while; a photo or two more, and another file is wanted in a folder that is not there.
	photo := bench.Picture{Type: "image/png", Bytes: largePhoto(t)}
	lost := false
	for range 60 {
		ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
		a, err := v.Do(ctx, bench.Verb{ID: service.NewID(), Name: bench.DoPhoto, Picture: &photo})
		cancel()
		if lost = err != nil || !a.OK; lost {
			break
		}
	}
	if !lost {
		t.Fatal("the stream still takes entries: this shows nothing")
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		v.stopWith(func(error) {}) // an entry that is safe nowhere is told, in the log in full
	}()
	select {
	case <-ended:
	case <-time.After(20 * time.Second):
		t.Fatal("told to stop twenty seconds ago, and still running")
	}
}

// The ledger lost its last entries, while its checkpoint says that they were recorded: they are fetched again from the
// stream, and that is told.
func TestALedgerThatLostItsEnd(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(12)
	n := v.status().N
	v.settled(n)
	v.stop()
	db, err := sql.Open("sqlite", filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	for _, q := range []string{"DROP TRIGGER entry_kept", "PRAGMA foreign_keys = OFF"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	for _, table := range []string{"reading", "run", "gauge_entry", "entry"} {
		if _, err := db.Exec("DELETE FROM "+table+" WHERE n > ?", n-5); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	v = serve(t, dir)
	v.troubled("they were fetched again from the stream")
	if got := v.status().N; got < n {
		t.Errorf("the ledger ends with entry %d, want %d", got, n)
	}
	v.stop()
	whole(t, dir, 12)
}

// The ledger is put back to an older copy and the stream has lost a message of those that came later: what follows the
// hole cannot be sealed onto what is there. It is set aside, and told on every surface, not silently.
func TestAnOlderLedgerAndAHoleInTheStream(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(8)
	v.stop()
	old, err := os.ReadFile(filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	v = serve(t, dir)
	from := v.status().N
	v.read(30)
	v.settled(v.status().N)
	v.stop()
	if err := os.WriteFile(filepath.Join(dir, service.LedgerName), old, 0o600); err != nil {
		t.Fatal(err)
	}
	blocks, err := filepath.Glob(filepath.Join(dir, service.BusFolder, "jetstream/*/streams/*/msgs/*.blk"))
	if err != nil || len(blocks) == 0 {
		t.Fatalf("no block of the stream: %v", err)
	}
	block, err := os.ReadFile(blocks[len(blocks)-1])
	if err != nil {
		t.Fatal(err)
	}
	// A byte of the message that holds the fifth entry after the copy.
	at := bytes.Index(block, fmt.Appendf(nil, `"n":%d,`, from+5))
	if at < 0 {
		t.Fatal("the entry is not in the block")
	}
	block[at+5] ^= 0x40
	if err := os.WriteFile(blocks[len(blocks)-1], block, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(filepath.Dir(blocks[0]), "index.db")); err != nil {
		t.Fatal(err)
	}
	v = serve(t, dir)
	st := v.status()
	t.Logf("ended with entry %d, copy with %d; troubles %v", st.N, from, st.Troubles)
	v.troubled("in neither the ledger nor the stream")
	v.troubled("thoud quarantine list")
	v.stop()
}

// The bus folder is lost: the ledger goes on, on a new stream that is shorter than it.
func TestAStreamShorterThanTheLedger(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(11)
	before := v.place
	v.stop()
	if err := os.RemoveAll(filepath.Join(dir, service.BusFolder)); err != nil {
		t.Fatal(err)
	}
	v = serve(t, dir)
	if st := v.status(); st.Place != before {
		t.Errorf("it stands at %s, want %s", st.Place, before)
	}
	v.troubled("the stream that held the last entries a second time is gone")
	v.read(9)
	v.stop()
	serve(t, dir).stop() // once more, now that stream and ledger have gone their own ways
	whole(t, dir, 20)
}

// An older copy of the ledger is put back: what the stream still holds is recorded again.
func TestAnOlderCopyOfTheLedger(t *testing.T) {
	dir, kept := t.TempDir(), t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(5)
	v.stop()
	copyLedger(t, dir, kept)
	v = serve(t, dir)
	v.read(14)
	st := v.settled(v.must(v.keyed()).N)
	v.stop()
	want := whole(t, dir, 20)
	copyLedger(t, kept, dir)
	whole(t, dir, 5)
	v = serve(t, dir)
	if got := v.status(); got.N < st.N || got.Place != st.Place {
		t.Errorf("with the older copy: entry %d at %s, want %d at %s", got.N, got.Place, st.N, st.Place)
	}
	v.stop()
	if got := whole(t, dir, 20); got.Seal != want.Seal || got.Results != want.Results {
		t.Errorf("the ledger ends with %.12s and %d results, it ended with %.12s and %d", got.Seal, got.Results, want.Seal, want.Results)
	}
}

func copyLedger(tb testing.TB, from, to string) {
	tb.Helper()
	for _, name := range []string{service.LedgerName, service.LedgerName + "-wal", service.LedgerName + "-shm"} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if os.IsNotExist(err) {
			if err := os.RemoveAll(filepath.Join(to, name)); err != nil {
				tb.Fatal(err)
			}
			continue
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(to, name), b, 0o600)
		}
		if err != nil {
			tb.Fatal(err)
		}
	}
}

// Two benches under one name: the entries of the other do not follow, are set aside with an alarm, and this one goes on.
func TestAForkIsQuarantined(t *testing.T) {
	dir, other := filepath.Join(t.TempDir(), "one"), filepath.Join(t.TempDir(), "other")
	v := serve(t, dir)
	v.begin()
	v.read(3)
	v.stop()
	if err := os.CopyFS(other, withoutSocket{os.DirFS(dir)}); err != nil {
		t.Fatal(err)
	}
	v = serve(t, dir)
	v.read(4)
	v.stop()
	o := serve(t, other)
	o.count = 100
	o.read(2)
	o.stop()
	inject(t, other, dir, 2)
	v = serve(t, dir)
	words := ""
	for _, n := range v.status().Troubles {
		words += n.Words
	}
	if !strings.Contains(words, "does not belong to this ledger and is set aside") || !strings.Contains(words, "Is a second bench using this name?") {
		t.Errorf("troubles: %q", words)
	}
	v.read(3)
	v.stop()
	whole(t, dir, 10)
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	q, err := s.Quarantined(ctx, "bench")
	if err != nil || len(q) != 2 {
		t.Errorf("quarantined: %d, want 2 (%v)", len(q), err)
	}
}

// withoutSocket hides what cannot be copied.
type withoutSocket struct{ fs.FS }

func (w withoutSocket) ReadDir(name string) ([]fs.DirEntry, error) {
	all, err := fs.ReadDir(w.FS, name)
	var out []fs.DirEntry
	for _, e := range all {
		if e.Type().IsRegular() || e.IsDir() {
			out = append(out, e)
		}
	}
	return out, err
}

// inject puts the last readings of one bench onto the stream of another.
func inject(tb testing.TB, from, to string, n int) {
	tb.Helper()
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(from, service.LedgerName))
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	b, err := bus.Start(ctx, bus.Config{Bench: "bench", Dir: filepath.Join(to, service.BusFolder), Log: zerolog.Nop()})
	if err != nil {
		tb.Fatal(err)
	}
	defer b.Close()
	var last []store.EntryRow
	if err := s.EachEntry(ctx, "bench", store.Filter{Limit: n}, func(r store.EntryRow) bool { last = append(last, r); return true }); err != nil {
		tb.Fatal(err)
	}
	for i := len(last) - 1; i >= 0; i-- {
		if err := b.Append(ctx, last[i].Entry, last[i].Body); err != nil {
			tb.Fatal(err)
		}
	}
}

// A full disk under the bus, under the ledger, and under both: it is told, the reading is held, nothing is lost, and it
// goes on by itself once there is room.
func TestAFullDiskAndRoomAgain(t *testing.T) {
	for _, c := range []struct{ name, small, source string }{
		{"bus", service.BusFolder, "bus"},
		{"ledger", "", "ledger"},
		{"both", "", "bus"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel() // most of it is waiting
			dir := t.TempDir()
			small := filepath.Join(dir, c.small)
			if err := os.MkdirAll(small, 0o700); err != nil {
				t.Fatal(err)
			}
			if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=24m"); err != nil {
				t.Logf("not run: no file system of limited size can be mounted here (%v)", err)
				return
			}
			t.Cleanup(func() {
				if err := syscall.Unmount(small, syscall.MNT_DETACH); err != nil {
					t.Error(err)
				}
			})
			if c.name == "ledger" {
				if err := os.Symlink(t.TempDir(), filepath.Join(dir, service.BusFolder)); err != nil {
					t.Fatal(err)
				}
			}
			fullUnder(t, dir, small, c.source)
		})
	}
}

func fullUnder(t *testing.T, dir, small, source string) {
	v := serve(t, dir)
	v.begin()
	v.read(3)
	ballast := filepath.Join(small, "ballast")
	fillDisk(t, ballast)
	// Readings go on until one is held; with the disk under the ledger alone the bus still takes them.
	taken, held := 3, bench.Verb{}
	told := func() bool {
		for _, n := range v.status().Troubles {
			if n.Source == source && strings.Contains(n.Words, "room") {
				return true
			}
		}
		return false
	}
	for i := 0; !told() && held.ID == ""; i++ {
		if i > 3000 {
			t.Fatal("the disk never filled")
		}
		verb := v.keyed()
		ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
		a, err := v.Do(ctx, verb)
		cancel()
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			held = verb // no answer while its entry is not safe
		case err != nil:
			t.Fatal(err)
		case a.OK:
			taken++
		default: // the pass is full
			if _, err := v.Do(context.Background(), bench.Verb{ID: service.NewID(), Name: bench.DoAgain}); err != nil {
				t.Fatal(err)
			}
		}
	}
	v.eventually("the trouble is told", told)
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	v.eventually("it goes on by itself", func() bool { return len(v.status().Troubles) == 0 })
	if held.ID != "" {
		// Asked once more under its id it says what became of it: it was done, once.
		v.must(held)
		taken++
	}
	v.read(3)
	v.stop()
	whole(t, dir, taken+3)
}

// fillDisk writes a file until nothing more goes on the disk.
func fillDisk(tb testing.TB, path string) {
	tb.Helper()
	f, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	for size := 1 << 20; size > 0; {
		if _, err := f.Write(make([]byte, size)); err != nil {
			size /= 2
		}
	}
}
