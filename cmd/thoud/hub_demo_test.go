package main

import (
	"context"
	"encoding/json"
	"io"
	"net"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"thoud/cmd/thoud/service"
	"thoud/store"
	"thoud/store/sheet"
)

// A whole build, computed at its bench, is at the hub: every entry and result, bound and computed again there to the same, and
// the sheet from the hub says what the bench's says. The hub is killed in the middle of it, twice.
func TestABuildIsWholeAtTheHub(t *testing.T) {
	h := newHubProcess(t, "poll = \"200ms\"\n")
	dir := t.TempDir()
	inv, err := service.Invite(h.dir, "demo", []string{"127.0.0.1:" + h.port}, "")
	if err == nil {
		err = service.Join(dir, "demo", inv)
	}
	if err != nil {
		t.Fatal(err)
	}
	h.start()
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	ended := make(chan error, 1)
	go func() {
		ended <- (demoOptions{fast: true, exit: true, dir: dir, plan: "first-fit", seed: 3}).run(ctx, io.Discard)
	}()
	for range 2 {
		time.Sleep(2 * time.Second)
		h.kill()
		time.Sleep(500 * time.Millisecond)
		h.start()
	}
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	own, err := store.OpenReadOnly(t.Context(), filepath.Join(dir, store.File))
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	// The bench is there once more, for what the hub has not yet.
	again, stop := context.WithCancel(ctx)
	settings := service.DefaultSettings()
	settings.Bench = "demo"
	served := make(chan error, 1)
	ready := make(chan net.Addr, 1)
	go func() {
		served <- (&service.Service{Dir: dir, Settings: settings, Ready: func(a net.Addr) { ready <- a }}).Run(again)
	}()
	select {
	case <-ready:
	case err := <-served:
		t.Fatal(err)
	}
	want, err := own.End(t.Context(), "demo")
	if err != nil {
		t.Fatal(err)
	}
	hubs, err := store.OpenReadOnly(t.Context(), filepath.Join(h.dir, store.File))
	if err != nil {
		t.Fatal(err)
	}
	defer hubs.Close()
	var ownRep, hubRep store.Report
	for end := time.Now().Add(time.Minute); ; time.Sleep(200 * time.Millisecond) {
		got, err := hubs.End(t.Context(), "demo")
		if err != nil {
			t.Fatal(err)
		}
		own, err := own.Count(t.Context(), "demo")
		if err != nil {
			t.Fatal(err)
		}
		copied, err := hubs.Count(t.Context(), "demo")
		if err != nil {
			t.Fatal(err)
		}
		if got.N >= want.N && copied == own {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("the hub ends %v with %+v, the bench %v with %+v\n%s", got, copied, want, own, h.log)
		}
	}
	stop()
	if err := <-served; err != nil {
		t.Fatal(err)
	}
	if ownRep, err = own.Verify(t.Context(), "demo", service.Check()); err != nil {
		t.Fatal(err)
	}
	if hubRep, err = hubs.Verify(t.Context(), "demo", service.Check()); err != nil {
		t.Fatal(err)
	}
	if len(hubRep.Wrong) > 0 || hubRep.Bound == 0 || hubRep.Results != ownRep.Results || hubRep.Bound != ownRep.Bound {
		t.Errorf("verified at the hub: %+v\nat the bench: %+v", hubRep, ownRep)
	}
	builds, err := own.Builds(t.Context(), "demo")
	if err != nil || len(builds) == 0 {
		t.Fatalf("builds %v, %v", builds, err)
	}
	var sheets []string
	for _, s := range []*store.Store{own, hubs} {
		made, err := service.SheetOf(t.Context(), s, "demo", builds[0].Job, true)
		if err != nil {
			t.Fatal(err)
		}
		// A bench may write on as it ends, what its hub fetches when it is there again; the seals were verified above.
		made.Made, made.Ledger = "", sheet.Ledger{}
		text, err := json.Marshal(made)
		if err != nil {
			t.Fatal(err)
		}
		sheets = append(sheets, string(text))
	}
	if sheets[0] != sheets[1] {
		t.Errorf("the sheet from the hub is another (-bench +hub):\n%.2000s", cmp.Diff(sheets[0], sheets[1]))
	}
	t.Logf("%d entries, %d results, %d bound again at the hub", hubRep.Entries, hubRep.Results, hubRep.Bound)
}
