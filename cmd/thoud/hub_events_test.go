package main

import (
	"database/sql"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
)

// What happens to a link, to the hub and to the bench, while the bench works: nothing is lost or there twice, and how late the
// latest entry was is told.
func TestWhatHappensToALink(t *testing.T) {
	h := newHubProcess(t, "poll = \"500ms\"\n")
	wire := newCable(t, "127.0.0.1:"+h.port)
	inv, err := service.Invite(h.dir, "one", []string{wire.ln.Addr().String()}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: "one", inv: inv}
	h.start()
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	linked := true
	t.Cleanup(func() { b.unlink() })
	db := openHub(t, h.dir)
	away := 2 * time.Second
	for _, event := range []struct {
		name string
		do   func()
	}{
		{"none", func() { time.Sleep(away) }},
		{"link reset", func() { wire.cut(); time.Sleep(away) }},
		{"link silent", func() { wire.quiet(true); time.Sleep(away); wire.quiet(false) }},
		{"hub killed three times", func() {
			for range 3 {
				h.kill()
				time.Sleep(away / 2)
				h.start()
				time.Sleep(away / 2)
			}
		}},
		{"bench away four times", func() {
			for range 4 {
				b.mu.Lock()
				linked = false
				b.mu.Unlock()
				b.unlink()
				time.Sleep(away / 4)
				if err := b.link(); err != nil {
					t.Fatal(err)
				}
				b.mu.Lock()
				linked = true
				b.mu.Unlock()
				time.Sleep(away / 4)
			}
		}},
	} {
		first := b.end.N
		stop, stopped := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(stopped)
			for {
				select {
				case <-stop:
					return
				case <-time.After(10 * time.Millisecond):
				}
				b.work(1)
				b.mu.Lock()
				tell := linked
				b.mu.Unlock()
				if tell {
					_ = b.nc.Publish("thoud.one.result.bench", []byte("{}")) // lost where the link is away
				}
			}
		}()
		watch := watchLate(t, db, first)
		event.do()
		close(stop)
		<-stopped
		waitEntries(t, h, db, int(b.end.N), time.Minute)
		late := watch()
		wholeAtHub(t, h, []*simBench{b})
		t.Logf("%-24s %4d entries, lost 0, twice 0, the latest %s late", event.name, b.end.N-first, late.Round(time.Millisecond))
	}
}

// watchLate looks how late entries are in the hub's ledger, until the returned function is called: it gives the worst. It
// looks every few milliseconds, so that it says a little too much.
func watchLate(t *testing.T, db *sql.DB, after uint64) func() time.Duration {
	t.Helper()
	stop, worst := make(chan struct{}), make(chan time.Duration, 1)
	go func() {
		var late time.Duration
		seen := int64(after)
		look := func() {
			var to, oldest int64
			err := db.QueryRow("SELECT coalesce(max(n), 0), coalesce(min(at), 0) FROM entry WHERE bench = 'one' AND n > ?", seen).Scan(&to, &oldest)
			if err == nil && to > seen {
				late, seen = max(late, time.Since(time.UnixMicro(oldest))), to
			}
		}
		for {
			select {
			case <-stop:
				look()
				worst <- late
				return
			case <-time.After(5 * time.Millisecond):
				look()
			}
		}
	}()
	return func() time.Duration { close(stop); return <-worst }
}

// Entries that piled up come over a link that carries a page no faster than a question waits for its answer: in smaller pages.
func TestALinkThatIsSlowerThanAPage(t *testing.T) {
	inLong(t, "a slow link; the pace itself is tested beside it")
	const rate, entries = 50_000, 500 // bytes a second; some 700 bytes each
	h := newHubProcess(t, "poll = \"500ms\"\n")
	wire := newCable(t, "127.0.0.1:"+h.port)
	inv, err := service.Invite(h.dir, "one", []string{wire.ln.Addr().String()}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: "one", inv: inv}
	b.work(entries)
	bytes := 0
	for _, body := range b.bodies {
		bytes += len(body)
	}
	h.start()
	wire.slow(rate)
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.unlink)
	began := time.Now()
	waitEntries(t, h, openHub(t, h.dir), entries, time.Minute)
	t.Logf("%d entries of %d kB over %d kB/s in %s; the link alone takes %s", entries, bytes/1000, rate/1000, time.Since(began).Round(100*time.Millisecond),
		(time.Duration(bytes) * time.Second / rate).Round(100*time.Millisecond))
	wire.slow(0)
	wholeAtHub(t, h, []*simBench{b})
}
