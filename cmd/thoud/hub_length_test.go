package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// What a hub costs must not grow with what it keeps: its start, its memory, and an entry that comes. A ledger of 1,000 entries
// against one of 10,000 here; where THOUD_LONG is set against 100,000 and a million. Each third entry has a result.
func TestAHubCostsTheSameHoweverMuchItKeeps(t *testing.T) {
	sizes := []int{1_000, 10_000}
	switch {
	case os.Getenv("THOUD_HUB_ENTRIES") != "":
		var n int
		if _, err := fmt.Sscan(os.Getenv("THOUD_HUB_ENTRIES"), &n); err != nil {
			t.Fatal(err)
		}
		sizes = []int{1_000, n}
	case os.Getenv("THOUD_LONG") != "":
		sizes = []int{1_000, 100_000, 1_000_000}
	case testing.Short():
		t.Skip("thousands of entries")
	}
	rows := []string{"| entries kept | ledger MB | start ms | MB at rest | MB after | processor ms an entry | late ms (p50) |"}
	var costs []hubCost
	for _, n := range sizes {
		c := costOfKeeping(t, n)
		costs = append(costs, c)
		rows = append(rows, fmt.Sprintf("| %12d | %9.1f | %8.0f | %10.0f | %8.0f | %21.2f | %13.1f |", n, c.ledger, ms(c.start), c.rest, c.after, ms(c.entry), ms(c.late)))
	}
	first := costs[0]
	for i, c := range costs[1:] {
		rows = append(rows, fmt.Sprintf("| ratio %6d | %9.1f | %8.1f | %10.1f | %8.1f | %21.1f | %13.1f |", sizes[i+1], c.ledger/first.ledger, ratio(c.start, first.start),
			c.rest/first.rest, c.after/first.after, ratio(c.entry, first.entry), ratio(c.late, first.late)))
		// The bounds leave room for a machine that is busy otherwise; what grew with the ledger would go far past them.
		if c.start > 3*first.start+time.Second || c.rest > first.rest+40 || c.entry > 3*first.entry+time.Millisecond {
			t.Errorf("with %d entries the hub costs more than with %d: %+v, %+v", sizes[i+1], sizes[0], c, first)
		}
	}
	t.Logf("what a hub costs by what it keeps:\n%s", strings.Join(rows, "\n"))
}

func ratio(a, b time.Duration) float64 { return float64(a) / float64(b) }
func megabytes(tb testing.TB, f string) float64 {
	tb.Helper()
	info, err := os.Stat(f)
	if err != nil {
		tb.Fatal(err)
	}
	return float64(info.Size()) / (1 << 20)
}

// hubCost is what a hub costs.
type hubCost struct {
	ledger, rest, after float64 // MB
	start, entry, late  time.Duration
}

// costOfKeeping has a hub keep so many entries of three benches, and one of them make more.
func costOfKeeping(t *testing.T, entries int) (c hubCost) {
	t.Helper()
	h := newHubProcess(t, "poll = \"1s\"\n")
	var benches []*simBench
	for i := range 3 {
		name := fmt.Sprint("bench-", i)
		inv, err := service.Invite(h.dir, name, []string{"127.0.0.1:" + h.port}, "")
		if err != nil {
			t.Fatal(err)
		}
		benches = append(benches, &simBench{tb: t, name: name, inv: inv})
	}
	s, err := store.Open(t.Context(), filepath.Join(h.dir, store.File))
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range benches {
		if err := b.history(s, entries/len(benches)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	c.ledger = megabytes(t, filepath.Join(h.dir, store.File))
	began := time.Now()
	h.start()
	c.start = time.Since(began)
	for _, b := range benches {
		if err := b.link(); err != nil {
			t.Fatal(err)
		}
		defer b.unlink()
	}
	time.Sleep(3 * time.Second) // the links stand, and each bench was asked
	var cpu0, cpu1 time.Duration
	c.rest, cpu0 = h.cost()
	const more = 100
	b, l := benches[0], looked{dir: h.dir, bench: benches[0].name}
	defer l.close()
	var late []time.Duration
	for range more {
		began := time.Now()
		b.work(1)
		b.tell()
		for n, ok := l.end(); (!ok || n < b.end.N) && time.Since(began) < patience; n, ok = l.end() {
			time.Sleep(time.Millisecond)
		}
		late = append(late, time.Since(began))
	}
	c.after, cpu1 = h.cost()
	slices.Sort(late)
	c.entry, c.late = (cpu1-cpu0)/more, late[len(late)/2]
	wholeAtHub(t, h, benches)
	h.kill()
	return c
}

// A bench that made ten thousand entries while it was away, and a hub that was away for as many: all of it arrives, in order,
// and what an entry costs then is told. A reading at a bench takes as long with a dead hub as with none.
func TestLongAbsences(t *testing.T) {
	inLong(t, "ten thousand entries and half a minute, twice")
	entries, away := 10_000, 35*time.Second
	h := newHubProcess(t, "poll = \"500ms\"\n")
	inv, err := service.Invite(h.dir, "one", []string{"127.0.0.1:" + h.port}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: "one", inv: inv}
	b.work(10)
	h.start()
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	linked := true
	t.Cleanup(func() {
		if linked {
			b.unlink()
		}
	})
	db := openHub(t, h.dir)
	waitEntries(t, h, db, 10, patience)
	arrives := func(what string, want int, back func()) {
		t.Helper()
		var cpu time.Duration
		if h.cmd.ProcessState == nil { // it runs
			_, cpu = h.cost()
		}
		seen, inOrder := 0, true
		back()
		began := time.Now()
		for end := began.Add(5 * time.Minute); seen < want && time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			var n, last int
			if err := db.QueryRow("SELECT count(*), max(n) FROM entry").Scan(&n, &last); err != nil {
				t.Fatal(err)
			}
			inOrder = inOrder && n == last && n >= seen
			seen = n
		}
		took := time.Since(began)
		_, now := h.cost()
		if seen != want || !inOrder {
			t.Errorf("%s: %d entries, want %d, in order %t", what, seen, want, inOrder)
		}
		wholeAtHub(t, h, []*simBench{b})
		t.Logf("%s for %s: %d entries piled up, all there after %s, %s and %s of processor an entry", what, away, entries, took.Round(time.Millisecond),
			(took / time.Duration(entries)).Round(time.Microsecond), ((now - cpu) / time.Duration(entries)).Round(time.Microsecond))
	}
	b.unlink()
	linked = false
	b.work(entries)
	time.Sleep(away)
	arrives("bench away", 10+entries, func() {
		if err := b.link(); err != nil {
			t.Fatal(err)
		}
		linked = true
	})
	h.kill()
	b.work(entries)
	time.Sleep(away)
	arrives("hub away", 10+2*entries, h.start)
}

// A reading never waits for a hub: what a verb takes at a bench with a dead hub, with one whose link is silent, and at a bench
// that has joined none, side by side.
func TestAReadingDoesNotWaitForAHub(t *testing.T) {
	if testing.Short() {
		t.Skip("three benches at work")
	}
	h, dead := newHubProcess(t, "poll = \"500ms\"\n"), newHubProcess(t, "name = \"dead\"\n")
	wire := newCable(t, "127.0.0.1:"+h.port)
	none, silent, away := newPlainBench(t, "none"), newPlainBench(t, "silent"), newPlainBench(t, "away")
	silent.joinsAt(h, wire.ln.Addr().String())
	away.joins(dead)
	h.start()
	benches := []*plainBench{none, silent, away}
	var starts []time.Duration
	for _, b := range benches {
		starts = append(starts, b.start())
		defer b.stop()
	}
	silent.work(1)
	silent.whole(h, patience)
	wire.quiet(true)
	defer wire.quiet(false)
	took := make([][]time.Duration, len(benches))
	rounds := 60
	for range rounds {
		for i, b := range benches {
			took[i] = append(took[i], b.work(1)...)
		}
	}
	for i, b := range benches {
		slices.Sort(took[i])
		t.Logf("hub %-6s: started in %s; a verb took %s (p50), %s (p95)", b.name, starts[i].Round(10*time.Millisecond), took[i][rounds].Round(10*time.Microsecond), took[i][rounds*19/10].Round(10*time.Microsecond))
		if p, q := took[i][rounds], took[0][rounds]; p > q+q/2+time.Millisecond {
			t.Errorf("with a hub that is %s a verb takes %s (p50), with none %s", b.name, p, q)
		}
	}
}
