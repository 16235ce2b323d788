package service_test

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/pipeline/hub"
	"thoud/store"
)

// runningHub is a hub with a server of its own on loopback.
type runningHub struct {
	tb      testing.TB
	dir     string
	address string
	stop    func() error

	mu      sync.Mutex
	reports map[string]hub.Report
	pages   string // where they are
}

// MustHub runs a hub on a folder until the test ends. Started again on the same folder it has the same address.
func MustHub(tb testing.TB, dir string) *runningHub {
	tb.Helper()
	settings, err := service.ReadHubSettings(dir)
	if err != nil {
		tb.Fatal(err)
	}
	h := &runningHub{tb: tb, dir: dir, reports: map[string]hub.Report{}}
	if b, err := os.ReadFile(filepath.Join(dir, "address")); err == nil {
		settings.Listen = string(b)
	} else if len(settings.NATS.URL) == 0 {
		settings.Listen = "127.0.0.1:0"
	}
	settings.Poll = "200ms"
	settings.Monitor.Listen = "127.0.0.1:0"
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	s := &service.Hub{Dir: dir, Settings: settings, Log: zerolog.New(zerolog.NewTestWriter(tb)).Level(zerolog.WarnLevel), Ready: func(a string) { ready <- a }, Shown: func(a net.Addr) {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.pages = "http://" + a.String()
	}, Told: func(all []hub.Report) {
		h.mu.Lock()
		defer h.mu.Unlock()
		for _, r := range all {
			h.reports[r.Bench] = r
		}
	}}
	go func() { ended <- s.Run(ctx) }()
	select {
	case h.address = <-ready:
	case err := <-ended:
		cancel()
		tb.Fatalf("the hub did not start: %v", err)
	case <-time.After(20 * time.Second):
		tb.Fatal("the hub is not ready after 20 s")
	}
	if err := os.WriteFile(filepath.Join(dir, "address"), []byte(h.address), 0o600); err != nil {
		tb.Fatal(err)
	}
	stopped := false
	h.stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		return <-ended
	}
	tb.Cleanup(func() {
		if err := h.stop(); err != nil {
			tb.Error(err)
		}
	})
	return h
}

// invite invites a bench and has it join.
func (h *runningHub) invite(benchName, benchDir string) {
	h.tb.Helper()
	i, err := service.Invite(h.dir, benchName, []string{h.address}, "")
	if err == nil {
		err = service.Join(benchDir, benchName, i)
	}
	if err != nil {
		h.tb.Fatal(err)
	}
}

func (h *runningHub) report(benchName string) hub.Report {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.reports[benchName]
}

// until waits until something holds of a bench's report; a link that was refused is tried again after half a minute only.
func (h *runningHub) until(benchName, what string, holds func(hub.Report) bool) hub.Report {
	h.tb.Helper()
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if r := h.report(benchName); holds(r) {
			return r
		}
	}
	h.tb.Fatalf("bench %s: not after two minutes: %s; %+v", benchName, what, h.report(benchName))
	return hub.Report{}
}

// has waits until the hub has every entry of a bench, and holds the two ledgers against each other, byte for byte.
func (h *runningHub) has(benchName, benchDir string) {
	h.tb.Helper()
	own := ledgerOf(h.tb, benchDir)
	end, err := own.End(context.Background(), benchName)
	if err != nil {
		h.tb.Fatal(err)
	}
	r := h.until(benchName, fmt.Sprint("has entry ", end.N), func(r hub.Report) bool { return r.N == end.N })
	h.same(benchName, own, r.Line)
}

// same holds a line of the hub's ledger against a bench's own: every seal, and of a first history every byte.
func (h *runningHub) same(benchName string, own *store.Store, line string) {
	h.tb.Helper()
	ctx := context.Background()
	copied := ledgerOf(h.tb, h.dir)
	want, err := own.Span(ctx, benchName, 1, 1<<20, 1<<40)
	if err != nil {
		h.tb.Fatal(err)
	}
	for n := uint64(1); n <= want.End.N; n++ {
		seal, ok, err := copied.SealAt(ctx, line, n)
		if err != nil || !ok {
			h.tb.Fatalf("entry %d of %s: %v", n, line, err)
		}
		ownSeal, _, err := own.SealAt(ctx, benchName, n)
		if err != nil || seal != ownSeal {
			h.tb.Fatalf("entry %d of %s has another seal (%v)", n, line, err)
		}
	}
	if line != benchName {
		return
	}
	got, err := copied.Span(ctx, line, 1, 1<<20, 1<<40)
	if err != nil || len(got.Bodies) != len(want.Bodies) {
		h.tb.Fatalf("%d entries, want %d (%v)", len(got.Bodies), len(want.Bodies), err)
	}
	for i := range got.Bodies {
		if !bytes.Equal(got.Bodies[i], want.Bodies[i]) {
			h.tb.Fatalf("entry %d of %s is not the bench's", i+1, line)
		}
	}
}

func ledgerOf(tb testing.TB, dir string) *store.Store {
	tb.Helper()
	s, err := store.OpenReadOnly(context.Background(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = s.Close() })
	return s
}

// work makes some entries at a bench: gauges that come and go.
func work(tb testing.TB, c *bus.Client, times int) {
	tb.Helper()
	for range times {
		name := "dial-" + service.NewID()[24:]
		for _, v := range []bench.Verb{
			{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: name, Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}},
			{Name: bench.DoGaugeRemove, Gauge: name, Reason: "test"},
		} {
			v.ID = service.NewID()
			if a, err := c.Do(context.Background(), v); err != nil || !a.OK {
				tb.Fatalf("%s: %v, %+v", v.Name, err, a)
			}
		}
	}
}

// Who is invited in the moment in which a hub starts is taken in like any other.
func TestInvitedWhileAHubStarts(t *testing.T) {
	dir, seen := t.TempDir(), make(chan struct{})
	settings, err := service.ReadHubSettings(dir)
	if err != nil {
		t.Fatal(err)
	}
	settings.Listen, settings.Monitor.Listen = "127.0.0.1:0", ""
	ctx, cancel := context.WithCancel(t.Context())
	var once sync.Once
	h := &service.Hub{Dir: dir, Settings: settings, Log: zerolog.Nop(), Ready: func(a string) {
		if _, err := service.Invite(dir, "one", []string{a}, ""); err != nil {
			t.Error(err)
		}
	}, Told: func(all []hub.Report) {
		if len(all) == 1 && all[0].Bench == "one" {
			once.Do(func() { close(seen) })
		}
	}}
	ended := make(chan error, 1)
	go func() { ended <- h.Run(ctx) }()
	select {
	case <-seen:
	case <-time.After(10 * time.Second):
		t.Error("the bench is not among the hub's after 10 s")
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

func TestAHubHasWhatItsBenchesHave(t *testing.T) {
	dir, one, two := t.TempDir(), t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", one)
	h.invite("two", two)
	c1, _ := MustRunAs(t, one, "one")
	work(t, c1, 3)
	c2, stop2 := MustRunAs(t, two, "two")
	work(t, c2, 5)
	h.has("one", one)
	h.has("two", two)
	st, err := c1.Status(t.Context())
	if err != nil || len(st.Hubs) != 1 || st.Hubs[0].Hub != "hub" || !st.Hubs[0].Linked {
		t.Errorf("status %+v, %v", st.Hubs, err)
	}
	// The hub is away: the bench works the same, and the hub gets the rest once it is back.
	if err := h.stop(); err != nil {
		t.Fatal(err)
	}
	work(t, c1, 3)
	if err := stop2(); err != nil {
		t.Fatal(err)
	}
	again := MustHub(t, dir)
	again.has("one", one)
	c2, _ = MustRunAs(t, two, "two")
	work(t, c2, 1)
	again.has("two", two)
	for _, name := range []string{"one", "two"} {
		if r := again.report(name); len(r.Alarms) > 0 {
			t.Errorf("bench %s: %v", name, r.Alarms)
		}
		rep, err := ledgerOf(t, dir).Verify(t.Context(), name, service.Check())
		if err != nil || len(rep.Wrong) > 0 || rep.Entries == 0 {
			t.Errorf("bench %s at the hub: %+v, %v", name, rep, err)
		}
	}
}

// A key that was replaced, a bench that was never invited, and a second machine of one name get nothing in.
func TestWhoIsNotTheBenchGetsNothingIn(t *testing.T) {
	dir, state, other := t.TempDir(), t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", state)
	c, stop := MustRunAs(t, state, "one")
	work(t, c, 1)
	h.has("one", state)
	// The same folder on another machine: the same key, the same name.
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	copyTree(t, state, other)
	c, stop = MustRunAs(t, state, "one")
	work(t, c, 1)
	h.has("one", state)
	c2, stop2 := MustRunAs(t, other, "one")
	work(t, c2, 3)
	r := h.until("one", "an alarm of the second machine", func(r hub.Report) bool { return r.Alarms[hub.AboutMachine] != "" })
	if !strings.Contains(r.Alarms[hub.AboutMachine], "answers as bench one, and is refused") || r.Line != "one" {
		t.Errorf("report %+v", r)
	}
	work(t, c, 1)
	h.has("one", state)
	if err := stop2(); err != nil {
		t.Fatal(err)
	}
	h.until("one", "the alarm is over", func(r hub.Report) bool { return r.Alarms[hub.AboutMachine] == "" })
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	// Invited anew the old key ends: what the old folder does now does not arrive, and the one that joined does.
	old := t.TempDir()
	copyTree(t, state, old)
	h.invite("one", state)
	time.Sleep(1500 * time.Millisecond) // the hub looks once a second who was invited
	c3, stop3 := MustRunAs(t, old, "one")
	before := h.report("one").N
	work(t, c3, 1)
	time.Sleep(time.Second)
	if r := h.report("one"); r.N != before || r.Linked {
		t.Errorf("the old key still links: %+v, was %d", r, before)
	}
	if err := stop3(); err != nil {
		t.Fatal(err)
	}
	c, _ = MustRunAs(t, state, "one")
	work(t, c, 1)
	h.has("one", state)
}

func copyTree(tb testing.TB, from, to string) {
	tb.Helper()
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		tb.Fatal(err)
	}
	// What is copied is what a copy of the folder by hand holds: no lock, no socket.
	for _, name := range []string{"lock", service.SocketName} {
		if err := os.RemoveAll(filepath.Join(to, name)); err != nil {
			tb.Fatal(err)
		}
	}
}

// The hub's signature under a bench's note counts where the bench's own does not: a ledger that was made anew as a whole,
// with another key, is found out by it.
func TestAHubIsAWitness(t *testing.T) {
	dir, state := t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", state)
	c, _ := MustRunAs(t, state, "one")
	work(t, c, 2)
	h.has("one", state)
	text, err := service.Witnessed(t.Context(), ledgerOf(t, dir), dir, "one")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, "— thoud-one ") || !strings.Contains(text, "— thoud-hub-hub ") {
		t.Fatalf("not signed by both:\n%s", text)
	}
	own := ledgerOf(t, state)
	keys, err := own.Keys(t.Context(), "one")
	if err != nil {
		t.Fatal(err)
	}
	witnesses, err := service.WitnessKeys(state)
	if err != nil || len(witnesses) != 1 {
		t.Fatalf("witnesses %v, %v", witnesses, err)
	}
	if _, err := service.OpenNote(text, keys); err != nil {
		t.Errorf("by the bench's key: %v", err)
	}
	noted, err := service.OpenNote(text, witnesses)
	if err != nil {
		t.Fatalf("by the hub's key alone: %v", err)
	}
	// Made anew: other entries, another key. Whole in itself, and not what the hub saw.
	other := t.TempDir()
	c2, stop := MustRunAs(t, other, "one")
	work(t, c2, 5)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	check := service.Check()
	check.Notes = []store.Noted{noted}
	for _, p := range []struct {
		dir   string
		wrong bool
	}{{state, false}, {other, true}} {
		rep, err := ledgerOf(t, p.dir).Verify(t.Context(), "one", check)
		if err != nil || (len(rep.Wrong) > 0) != p.wrong {
			t.Errorf("wrong %v, want any: %t (%v)", rep.Wrong, p.wrong, err)
		}
	}
	if _, err := service.Witnessed(t.Context(), ledgerOf(t, dir), dir, "two"); err == nil {
		t.Error("a bench that is not there was witnessed")
	}
}
