package service

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/store"
)

// A copy is made once a day of work is over, fourteen are kept, and a folder that is not there is told.
func TestDailyBackup(t *testing.T) {
	ctx := context.Background()
	dir, folder := t.TempDir(), filepath.Join(t.TempDir(), "disk")
	s, err := store.Open(ctx, filepath.Join(dir, LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	now := time.Date(2027, 3, 1, 9, 0, 0, 0, time.Local)
	var told bench.Notice
	d := dailyBackup{ledger: s, name: "bench", lines: ownLine("bench"), settings: SettingsName, dir: dir, folder: folder, now: func() time.Time { return now },
		note: func(context.Context) string { return "a note" }, notice: func(n bench.Notice) { told = n }, log: zerolog.Nop()}
	chain := bench.Chain{}
	work := func() {
		t.Helper()
		e, body, err := chain.Number(bench.Entry{Bench: "bench", ID: NewID(), Kind: bench.Dropped, At: now.UnixMicro(), Item: "a nut"})
		if err != nil {
			t.Fatal(err)
		}
		if chain, err = chain.Next(e, body); err != nil {
			t.Fatal(err)
		}
		if err := s.Record(ctx, "bench", e, body, chain.Seal, nil, store.Checkpoint{}); err != nil {
			t.Fatal(err)
		}
	}
	looked := func(set string, when time.Time) string {
		words, want := BackupLook(ctx, s, "bench", dir, Settings{Backup: set}, when)
		if want == "" {
			return "good: " + words
		}
		return words
	}
	says := func(set string, when time.Time, want string) {
		t.Helper()
		if got := looked(set, when); !strings.Contains(got, want) {
			t.Errorf("checkup says %q, want %q", got, want)
		}
	}
	says("", now, "good: nothing was recorded")
	d.look(ctx)
	if told.Stands {
		t.Errorf("nothing was done yet, and it is told: %s", told.Words)
	}
	work()
	says("", now, "no folder for backups is set")
	says(folder, now, "is not there")
	now = now.Add(10 * time.Hour)
	d.look(ctx)
	if len(d.own()) != 0 || told.Stands {
		t.Errorf("the day is not over: %v, %q", d.own(), told.Words)
	}
	now = now.Add(10 * time.Hour) // the next morning
	d.look(ctx)
	if !told.Stands || !strings.Contains(told.Words, folder) {
		t.Errorf("the folder is not there: %+v", told)
	}
	if err := os.Mkdir(folder, 0o750); err != nil {
		t.Fatal(err)
	}
	says(folder, now, "there is no copy")
	d.look(ctx)
	says(folder, now, "on the same disk")
	if got := d.own(); len(got) != 1 || got[0] != "thoud-bench-2027-03-01.tar.gz" || told.Stands {
		t.Fatalf("copies %v, told %+v", got, told)
	}
	if b, err := os.ReadFile(filepath.Join(folder, "thoud-bench-2027-03-01-note.txt")); err != nil || string(b) != "a note" {
		t.Errorf("the note beside the copy: %q, %v", b, err)
	}
	if err := os.WriteFile(filepath.Join(folder, "thoud-bench-notes.tar.gz"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 20 {
		work()
		now = now.Add(24 * time.Hour)
		d.look(ctx)
	}
	got := d.own()
	if len(got) != backupsKept || got[len(got)-1] != "thoud-bench-2027-03-21.tar.gz" {
		t.Errorf("%d copies, the newest %s", len(got), got[len(got)-1])
	}
	if _, err := os.Stat(filepath.Join(folder, "thoud-bench-notes.tar.gz")); err != nil {
		t.Error("a file of another's was let go")
	}
	if _, err := (Restore{Dir: t.TempDir(), From: filepath.Join(folder, got[len(got)-1]), Now: time.Now}).Run(ctx); err != nil {
		t.Errorf("the newest copy: %v", err)
	}
	says(folder, now.Add(5*24*time.Hour), "on the same disk")
	says(folder, now.Add(9*24*time.Hour), "on the same disk") // nothing was done since that copy
	// Work goes on while no copy can be made.
	if err := os.Rename(folder, folder+"-gone"); err != nil {
		t.Fatal(err)
	}
	work()
	now = now.Add(24 * time.Hour)
	d.look(ctx)
	if !told.Stands {
		t.Error("the folder is gone and nobody is told")
	}
	if err := os.Rename(folder+"-gone", folder); err != nil {
		t.Fatal(err)
	}
	now = now.Add(5 * 24 * time.Hour)
	work()
	says(folder, now.Add(3*24*time.Hour), "days ago, and work went on since")
}
