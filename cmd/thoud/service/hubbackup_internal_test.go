package service

import (
	"archive/tar"
	"compress/gzip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/store"
)

// A hub copies its ledger after a day of work of whichever bench, with hub.toml in the copy, and goes back to it: every bench
// is whole there.
func TestAHubsDailyBackupAndItsRestore(t *testing.T) {
	ctx, dir, folder := t.Context(), t.TempDir(), t.TempDir()
	s, err := store.Open(ctx, filepath.Join(dir, LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := os.WriteFile(filepath.Join(dir, HubSettingsName), []byte("name = \"shop\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	day := time.Date(2027, 3, 1, 9, 0, 0, 0, time.Local)
	for name, at := range map[string]time.Time{"lathe": day, "window": day.Add(-48 * time.Hour)} {
		e, body, err := bench.Chain{}.Number(bench.Entry{Bench: name, ID: NewID(), Kind: bench.Dropped, At: at.UnixMicro(), Item: "a nut"})
		if err != nil {
			t.Fatal(err)
		}
		chain, err := bench.Chain{}.Next(e, body)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Take(ctx, []store.Taking{{Line: name, Begin: &store.Line{Name: name}, Entries: []store.TakenEntry{{Entry: e, Body: body, Seal: chain.Seal}}}}); err != nil {
			t.Fatal(err)
		}
	}
	h := &Hub{Dir: dir, Settings: HubSettings{Name: "shop", Backup: filepath.Join(folder, "disk")}, Log: zerolog.Nop()}
	trouble := &hubTrouble{}
	now := day.Add(2 * time.Hour)
	look := func() dailyBackup {
		d := h.daily(s, trouble)
		d.now = func() time.Time { return now }
		d.look(ctx)
		return d
	}
	if look(); trouble.get() != "" {
		t.Errorf("the day is not over: %s", trouble.get())
	}
	now = day.Add(24 * time.Hour)
	if look(); !strings.Contains(trouble.get(), "is not there (backup in hub.toml)") {
		t.Errorf("the folder is not there, and the hub says %q", trouble.get())
	}
	if err := newReporter(dir, "shop").write(now, nil, trouble.get(), true); err != nil {
		t.Fatal(err)
	}
	if r, err := ReadHubReport(dir); err != nil || r.Trouble != trouble.get() {
		t.Errorf("commands are told %q, %v", r.Trouble, err)
	}
	if err := os.Mkdir(h.Settings.Backup, 0o750); err != nil {
		t.Fatal(err)
	}
	d := look()
	if got := d.own(); !slices.Equal(got, []string{"thoud-hub-shop-2027-03-01.tar.gz"}) || trouble.get() != "" {
		t.Fatalf("copies %v, trouble %q", got, trouble.get())
	}
	file := filepath.Join(h.Settings.Backup, d.own()[0])
	if got := packed(t, file); !slices.Equal(got, []string{LedgerName, HubSettingsName}) {
		t.Errorf("in the copy: %v", got)
	}
	back := t.TempDir()
	done, err := Restore{Dir: back, From: file, Now: time.Now}.Run(ctx)
	if err != nil || done.Bench != "lathe, window" || done.Entries != 2 || !slices.Equal(done.Put, []string{LedgerName, HubSettingsName}) {
		t.Fatalf("restored: %+v, %v", done, err)
	}
	if b, err := os.ReadFile(filepath.Join(back, HubSettingsName)); err != nil || string(b) != "name = \"shop\"\n" {
		t.Errorf("hub.toml: %q, %v", b, err)
	}
}

// packed are the names in an archive.
func packed(t *testing.T, file string) []string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err != nil {
			return out
		}
		out = append(out, h.Name)
	}
}
