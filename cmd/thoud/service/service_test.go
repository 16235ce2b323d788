package service_test

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// MustRun runs a service on a folder until the test ends and gives a client of its socket.
func MustRun(t *testing.T, dir string) (c *bus.Client, stop func() error) {
	t.Helper()
	return MustRunAs(t, dir, service.DefaultSettings().Bench)
}

// MustRunAs is MustRun for a bench of some name.
func MustRunAs(t *testing.T, dir, benchName string) (c *bus.Client, stop func() error) {
	t.Helper()
	settings := service.DefaultSettings()
	settings.Bench = benchName
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: settings, Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	select {
	case <-ready:
	case err := <-ended:
		cancel()
		t.Fatalf("the service did not start: %v", err)
	case <-time.After(20 * time.Second):
		t.Fatal("the service is not ready after 20 s")
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, s.Settings.Bench)
	if err != nil {
		t.Fatal(err)
	}
	stopped := false
	stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		c.Close()
		cancel()
		return <-ended
	}
	t.Cleanup(func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
	return c, stop
}

// What was done before a stop is there after the start, and the place too.
func TestStopAndStartAgain(t *testing.T) {
	dir := t.TempDir()
	c, stop := MustRun(t, dir)
	a, err := c.Do(t.Context(), bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd,
		Register: &bench.Gauge{Name: "plain-dial", Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}})
	if err != nil || !a.OK {
		t.Fatalf("gauge-add: %v, %+v", err, a)
	}
	before, err := c.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	c, _ = MustRun(t, dir)
	after, err := c.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if after.N < before.N || len(after.Gauges) != 1 || after.Gauges[0].Name != "plain-dial" {
		t.Errorf("after the start: entry %d, gauges %+v; before the stop entry %d", after.N, after.Gauges, before.N)
	}
}

// Two services on one folder would write two chains: the second one is refused, and says who holds the folder.
func TestASecondServiceIsRefused(t *testing.T) {
	dir := t.TempDir()
	MustRun(t, dir)
	second := &service.Service{Dir: dir, Settings: service.DefaultSettings(), Log: zerolog.Nop()}
	err := second.Run(t.Context())
	if !errors.Is(err, service.ErrLocked) || !strings.Contains(err.Error(), dir) {
		t.Errorf("got %v, want ErrLocked that names %s", err, dir)
	}
}

// A state folder whose settings name another bench than its ledger is refused: its entries would be numbered anew.
func TestALedgerOfAnotherBenchIsRefused(t *testing.T) {
	dir := t.TempDir()
	c, stop := MustRun(t, dir)
	if a, err := c.Do(t.Context(), bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd,
		Register: &bench.Gauge{Name: "plain-dial", Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}}); err != nil || !a.OK {
		t.Fatalf("gauge-add: %v, %+v", err, a)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	other := service.DefaultSettings()
	other.Bench = "other"
	err := (&service.Service{Dir: dir, Settings: other, Log: zerolog.Nop()}).Run(t.Context())
	if err == nil || !strings.Contains(err.Error(), `bench = "bench"`) {
		t.Errorf("got %v, want a refusal that says what to set", err)
	}
}

// Settings are read strictly: each fault names the file, the line where there is one, and the value.
func TestSettingsFaults(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"bench = \"Shop One\"\n", `bench = "Shop One"`},
		{"lockout = \"soon\"\n", `lockout = "soon"`},
		{"bench = \"a\"\nlisten = \"x\"\n", `:2:1: unknown key "listen"`},
		{"bench = \n", ":1:"},
		{"# " + strings.Repeat("x", 100_000) + "\n", "64 kB"},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, service.SettingsName)
		if err := os.WriteFile(path, []byte(c.text), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := service.ReadSettings(dir)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), path) {
			t.Errorf("%q: got %v, want a fault with %q that names the file", c.text, err, c.want)
		}
	}
}

// An address that another program has does not keep the bench from measuring. Once it is free the pages come.
func TestATakenAddressKeepsNobodyFromMeasuring(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: service.DefaultSettings(), Log: zerolog.Nop(), Listen: taken.Addr().String(), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	select {
	case a := <-ready:
		if a != nil {
			t.Fatalf("the monitor says it is at %s, which is taken", a)
		}
	case err := <-ended:
		t.Fatalf("the service ended: %v", err)
	case <-time.After(20 * time.Second):
		t.Fatal("the service is not ready")
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, s.Settings.Bench)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	st, err := c.Status(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Troubles) != 1 || !strings.Contains(st.Troubles[0].Words, taken.Addr().String()) {
		t.Errorf("troubles %+v, want one that names %s", st.Troubles, taken.Addr())
	}
	taken.Close()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		if st, err = c.Status(ctx); err != nil {
			t.Fatal(err)
		}
		if len(st.Troubles) == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the address is free and the pages do not come: %+v", st.Troubles)
		}
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// Pages that other machines reach without TLS are warned of as long as that is so.
func TestPagesWithoutTLSAreWarnedOf(t *testing.T) {
	dir := t.TempDir()
	settings := service.DefaultSettings()
	hash, err := monitor.HashCode("both hands")
	if err != nil {
		t.Fatal(err)
	}
	settings.Monitor.WorkCode = hash
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: settings, Log: zerolog.Nop(), Listen: "0.0.0.0:0", Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	select {
	case <-ready:
	case err := <-ended:
		t.Fatalf("the service ended: %v", err)
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, settings.Bench)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	st, err := c.Status(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Troubles) != 1 || !strings.Contains(st.Troubles[0].Words, "TLS") {
		t.Errorf("troubles %+v, want a warning that TLS is missing", st.Troubles)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// The lock is a file of the state folder: a link there would have the service write its number into another's file.
func TestTheLockFollowsNoLink(t *testing.T) {
	dir, other := t.TempDir(), filepath.Join(t.TempDir(), "other")
	if err := errors.Join(os.WriteFile(other, []byte("mine"), 0o600), os.Symlink(other, filepath.Join(dir, "lock"))); err != nil {
		t.Fatal(err)
	}
	if f, err := service.Lock(dir); err == nil {
		f.Close()
		t.Error("a link was taken for the lock")
	}
	if b, err := os.ReadFile(other); err != nil || string(b) != "mine" {
		t.Errorf("the file at the link's end is %q, %v", b, err)
	}
}

// The ledger names the program that wrote it, sealed like everything else, so that a fault of one version can be looked
// for in what it wrote. Another start of the same program names it no second time.
func TestTheLedgerNamesItsProgram(t *testing.T) {
	dir := t.TempDir()
	for range 2 {
		_, stop := MustRun(t, dir)
		if err := stop(); err != nil {
			t.Fatal(err)
		}
	}
	s, err := store.OpenReadOnly(t.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var got []string
	if err := s.EachEntry(t.Context(), service.DefaultSettings().Bench, store.Filter{Kind: bench.RulesNamed}, func(r store.EntryRow) bool {
		got = append(got, r.Entry.Rules.Program)
		return true
	}); err != nil {
		t.Fatal(err)
	}
	if len(got) != 1 || got[0] != service.Version() {
		t.Errorf("the ledger names %q, want %q once", got, service.Version())
	}
}
