package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// The hub's disk is full: it says so in words, for each bench, in its list too; the benches work on; with room again it has all.
func TestTheDiskOfAHubIsFull(t *testing.T) {
	h := newHubProcess(t, "poll = \"300ms\"\n")
	settings, err := os.ReadFile(filepath.Join(h.dir, service.HubSettingsName))
	if err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", h.dir, "tmpfs", 0, "size=6m"); err != nil {
		t.Logf("not run: no file system of limited size can be mounted here (%v)", err)
		return
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(h.dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	if err := os.WriteFile(filepath.Join(h.dir, service.HubSettingsName), settings, 0o600); err != nil {
		t.Fatal(err)
	}
	b := newPlainBench(t, "one")
	b.joins(h)
	inv, err := service.Invite(h.dir, "sim", []string{"127.0.0.1:" + h.port}, "")
	if err != nil {
		t.Fatal(err)
	}
	sim := &simBench{tb: t, name: "sim", inv: inv}
	h.start()
	defer h.kill()
	b.start()
	defer b.stop()
	b.work(2)
	b.whole(h, patience)
	fillDisk(t, filepath.Join(h.dir, "ballast"))
	sim.work(2000)
	if err := sim.link(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(sim.unlink)
	took := b.work(10)
	for _, name := range []string{"one", "sim"} {
		says := "bench " + name + `: what was pulled cannot be stored: ledger .*: the disk is full; make room for it`
		list := ""
		for end := time.Now().Add(45 * time.Second); time.Now().Before(end) && !regexp.MustCompile(says).MatchString(list); time.Sleep(200 * time.Millisecond) {
			list = must(t, "hub", "list", "--state", h.dir)
		}
		if !regexp.MustCompile(says).MatchString(list) || strings.Contains(list, "does not run") {
			t.Errorf("the hub's list says %q, want %q", list, says)
		}
	}
	if os.Getenv("THOUD_LONG") != "" {
		time.Sleep(35 * time.Second) // longer than a report is believed
	}
	if list := must(t, "hub", "list", "--state", h.dir); strings.Contains(list, "does not run") {
		t.Errorf("with a full disk the list says of a hub that runs: %s", list)
	}
	t.Logf("a full disk at the hub: the bench took %s for a verb (p50); the hub wrote %d lines into its log", took[len(took)/2].Round(10*time.Microsecond), strings.Count(h.log.String(), "\n"))
	if n := strings.Count(h.log.String(), "\n"); n > 20 {
		t.Errorf("the hub wrote %d lines:\n%.1500s", n, h.log)
	}
	if err := os.Remove(filepath.Join(h.dir, "ballast")); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", h.dir, "tmpfs", syscall.MS_REMOUNT, "size=64m"); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(patience); time.Now().Before(end) && standing(h.dir) != ""; time.Sleep(100 * time.Millisecond) {
	}
	b.whole(h, time.Minute)
	if n := uint64(len(entriesOf(t, h.dir, "sim"))); n != sim.end.N {
		for end := time.Now().Add(time.Minute); time.Now().Before(end) && n != sim.end.N; time.Sleep(200 * time.Millisecond) {
			n = uint64(len(entriesOf(t, h.dir, "sim")))
		}
		if n != sim.end.N {
			t.Errorf("with room again the hub has %d entries of sim, want %d", n, sim.end.N)
		}
	}
	sealed(t, h.dir, "one")
	sealed(t, h.dir, "sim")
}

// The hub's ledger is damaged: it says so and what to do, and does not run on; the benches work on; with the ledger out of the
// way it has everything again from the start, in a new one.
func TestTheLedgerOfAHubIsDamaged(t *testing.T) {
	h := newHubProcess(t, "poll = \"300ms\"\n")
	b := newPlainBench(t, "one")
	b.joins(h)
	h.start()
	b.start()
	defer b.stop()
	b.work(100)
	b.whole(h, patience)
	for _, damage := range []struct {
		name string
		do   func(path string) error
	}{
		{"its beginning overwritten", func(path string) error { return overwrite(path, 0, 4096) }},
		{"its middle overwritten", func(path string) error {
			info, err := os.Stat(path)
			if err != nil {
				return err
			}
			return overwrite(path, info.Size()/4096/3*4096, 40*4096)
		}},
		{"cut short", func(path string) error {
			info, err := os.Stat(path)
			if err != nil {
				return err
			}
			return os.Truncate(path, info.Size()/2)
		}},
	} {
		h.stop() // so that all is in the one file
		path := filepath.Join(h.dir, store.File)
		if _, err := os.Stat(path + "-wal"); err == nil {
			t.Fatal("the ledger is not all in one file: the damage would not be seen")
		}
		if err := damage.do(path); err != nil {
			t.Fatal(err)
		}
		b.work(2)
		words := h.damaged(t)
		t.Logf("%s: %s", damage.name, words)
		if !regexp.MustCompile(`ledger .*: is (no ledger, or )?damaged; .*the benches have all of it`).MatchString(words) {
			t.Errorf("%s: the hub says %q", damage.name, words)
		}
		b.work(2)
		if err := os.Rename(path, path+".damaged"); err != nil {
			t.Fatal(err)
		}
		for _, more := range []string{"-wal", "-shm"} {
			_ = os.Remove(path + more)
		}
		h.start()
		b.whole(h, time.Minute)
	}
}

func overwrite(path string, at int64, bytes int) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	defer f.Close()
	junk := make([]byte, bytes)
	for i := range junk {
		junk[i] = 0xA5
	}
	_, err = f.WriteAt(junk, at)
	return err
}

// damaged starts the hub on a damaged ledger and gives what it says: as it ends, or of a bench while it runs. It is ended.
func (h *hubProcess) damaged(t *testing.T) string {
	t.Helper()
	h.startAnyhow()
	ended := make(chan error, 1)
	go func() { ended <- h.cmd.Wait() }()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		select {
		case <-ended:
			return fmt.Sprint(h.log)
		default:
		}
		if words := standing(h.dir); strings.Contains(words, "damaged") {
			_ = h.cmd.Process.Kill()
			<-ended
			return words
		}
	}
	_ = h.cmd.Process.Kill()
	<-ended
	return "nothing of it: " + fmt.Sprint(h.log)
}
