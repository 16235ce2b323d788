package main

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// Many benches at one hub, each over a TLS link of its own: all that they have gets there, once, and what it costs. Fifty
// here; .ci/long asks for more by THOUD_BENCHES.
func TestManyBenchesAtAHub(t *testing.T) {
	counts := []int{3, 50}
	if n, err := strconv.Atoi(os.Getenv("THOUD_BENCHES")); err == nil {
		counts = []int{n}
	} else if testing.Short() {
		counts = []int{12}
	}
	rows := []string{"| benches | hub alone MB | catching up MB | ms an entry | one a second MB | ms an entry | late ms | at most ms |"}
	for _, count := range counts {
		t.Run(fmt.Sprint(count), func(t *testing.T) { rows = append(rows, manyBenches(t, count)) })
	}
	t.Logf("what benches cost a hub:\n%s", strings.Join(rows, "\n"))
}

func manyBenches(t *testing.T, count int) (row string) {
	const history = 200
	h := newHubProcess(t, "poll = \"5s\"\n")
	benches := make([]*simBench, count)
	for i := range benches {
		name := fmt.Sprintf("bench-%04d", i)
		inv, err := service.Invite(h.dir, name, []string{"127.0.0.1:" + h.port}, "")
		if err != nil {
			t.Fatal(err)
		}
		benches[i] = &simBench{tb: t, name: name, inv: inv}
		benches[i].work(history)
	}
	h.start()
	alone, _ := h.cost()
	var links sync.WaitGroup
	at := make(chan struct{}, 16) // a thousand at once on one machine wait for one another
	began := time.Now()
	for _, b := range benches {
		at <- struct{}{}
		links.Go(func() {
			defer func() { <-at }()
			if err := b.link(); err != nil {
				t.Error(err)
			}
		})
	}
	links.Wait()
	t.Cleanup(func() {
		for _, b := range benches {
			b.unlink()
		}
	})
	db := openHub(t, h.dir)
	waitEntries(t, h, db, count*history, 5*time.Minute)
	caught := time.Since(began)
	mb, cpu := h.cost()
	t.Logf("%d benches: hub alone %.0f MB; %d entries caught up %s after the links began, %.0f MB, %s of processor an entry",
		count, alone, count*history, caught.Round(time.Millisecond), mb, cpu/time.Duration(count*history))
	if limit := 250.0; mb > limit {
		t.Errorf("%.0f MB for %d benches, at most %.0f", mb, count, limit)
	}
	// One entry a bench a second.
	const rounds = 5
	var late []time.Duration
	for range rounds {
		next := time.Now().Add(time.Second)
		for _, b := range benches {
			b.work(1)
			b.tell()
		}
		for time.Now().Before(next) {
			time.Sleep(100 * time.Millisecond)
			late = append(late, lateNow(t, db, history))
		}
	}
	waitEntries(t, h, db, count*(history+rounds), time.Minute)
	slices.Sort(late)
	middle, worst := late[len(late)/2], late[len(late)-1]
	mb2, cpu2 := h.cost()
	t.Logf("%d benches, one entry a second each: late %s (the worst of the benches, at the middle of the moments it was looked at), at most %s, %.0f MB, %s of processor an entry", count, middle.Round(time.Millisecond), worst.Round(time.Millisecond), mb2, (cpu2-cpu)/time.Duration(count*rounds))
	wholeAtHub(t, h, benches)
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	return fmt.Sprintf("| %7d | %12.0f | %14.0f | %11.2f | %15.0f | %11.2f | %7.1f | %10.0f |", count, alone, mb, ms(cpu/time.Duration(count*history)), mb2, ms((cpu2-cpu)/time.Duration(count*rounds)), ms(middle), ms(worst))
}

func openHub(t testing.TB, dir string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, store.File)+"?mode=ro&_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func waitEntries(t testing.TB, h *hubProcess, db *sql.DB, want int, patience time.Duration) {
	t.Helper()
	n := 0
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if err := db.QueryRow("SELECT count(*) FROM entry").Scan(&n); err != nil {
			t.Fatal(err)
		}
		if n == want {
			return
		}
	}
	t.Fatalf("the hub has %d entries, %d are wanted\n%s", n, want, h.log)
}

// lateNow is how late the entries that came last were taken: the worst of them.
func lateNow(t testing.TB, db *sql.DB, after int) time.Duration {
	t.Helper()
	var late int64
	err := db.QueryRow(`SELECT coalesce(max(line.at - entry.at), 0) FROM (SELECT bench, n, at FROM entry ORDER BY rowid DESC LIMIT 100) AS entry JOIN line USING (bench)
		WHERE entry.n > ? AND entry.n = (SELECT max(last.n) FROM entry AS last WHERE last.bench = entry.bench)`, after).Scan(&late)
	if err != nil {
		t.Fatal(err)
	}
	return time.Duration(late) * time.Microsecond
}

// wholeAtHub holds the hub's ledger against the benches: every entry and every result, none twice, none altered.
func wholeAtHub(t testing.TB, h *hubProcess, benches []*simBench) {
	t.Helper()
	s, err := store.OpenReadOnly(context.Background(), filepath.Join(h.dir, store.File))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(100 * time.Millisecond) {
		lines, err := s.Lines(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		wrong := ""
		of := map[string]store.Line{}
		for _, l := range lines {
			of[l.Name] = l
		}
		for _, b := range benches {
			b.mu.Lock()
			end, results, sum := b.end, b.results(), b.sum(b.results())
			b.mu.Unlock()
			if l := of[b.name]; l.End != end || l.Results != results || l.Running != sum {
				wrong = fmt.Sprintf("%s: the hub has entry %d and %d results, the bench %d and %d", b.name, l.End.N, l.Results, end.N, results)
			}
		}
		if wrong == "" && len(lines) == len(benches) {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("%s; %d lines of %d benches\n%s", wrong, len(lines), len(benches), h.log)
		}
	}
}
