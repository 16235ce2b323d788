package service_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
	"thoud/store/ledgertest"
)

// oldest is the oldest ledger that is kept.
const oldest = "../../../testdata/ledger/first-round/ledger.db.gz"

// unzipped writes the oldest ledger to a file of its own.
func unzipped(t *testing.T, path string) {
	t.Helper()
	if err := os.WriteFile(path, ledgertest.Unzip(t, oldest), 0o600); err != nil {
		t.Fatal(err)
	}
}

func restore(t *testing.T, dir, from string, keep, drop bool) (service.Restored, error) {
	t.Helper()
	return service.Restore{Dir: dir, From: from, KeepStream: keep, DropStream: drop, Now: time.Now}.Run(t.Context())
}

// The oldest ledger there is goes into a new state folder, and the service goes on from it.
func TestRestoreTheOldestLedger(t *testing.T) {
	file, dir := filepath.Join(t.TempDir(), "ledger.db"), t.TempDir()
	unzipped(t, file)
	done, err := restore(t, dir, file, false, false)
	if err != nil {
		t.Fatal(err)
	}
	if done.Bench != "demo" || done.Entries != 957 || done.Aside != "" {
		t.Errorf("restored %+v", done)
	}
	settings := "bench = \"demo\"\n"
	if err := os.WriteFile(filepath.Join(dir, service.SettingsName), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	c, _ := MustRunAs(t, dir, "demo")
	st, err := c.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if st.N < 957 {
		t.Errorf("the service goes on from entry %d, want 957", st.N)
	}
}

// A whole move: settings, profiles and ledger out of one folder into another.
func TestBackupAndRestoreHoldSettingsAndProfiles(t *testing.T) {
	dir := t.TempDir()
	profile, err := os.ReadFile("../../../devices/profiles/text-weight-lf.toml")
	if err != nil {
		t.Fatal(err)
	}
	own := strings.Replace(string(profile), "text-weight-lf", "my-scale", 1)
	if err := errors.Join(os.WriteFile(filepath.Join(dir, service.SettingsName), []byte("bench = \"bench\"\nlockout = \"400ms\"\n"), 0o600),
		os.Mkdir(filepath.Join(dir, service.ProfilesFolder), 0o750),
		os.WriteFile(filepath.Join(dir, service.ProfilesFolder, "my-scale.toml"), []byte(own), 0o600),
		os.WriteFile(filepath.Join(dir, "key"), []byte("PRIVATE"), 0o600)); err != nil {
		t.Fatal(err)
	}
	c, stop := MustRun(t, dir)
	if a, err := c.Do(t.Context(), bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd,
		Register: &bench.Gauge{Name: "plain-dial", Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}}); err != nil || !a.OK {
		t.Fatalf("gauge-add: %v, %+v", err, a)
	}
	s, err := store.OpenReadOnly(t.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "copy"+service.ArchiveSuffix)
	if err := service.Backup(t.Context(), s, dir, file, nil); err != nil {
		t.Fatal(err)
	}
	if err := service.Backup(t.Context(), s, dir, file, nil); !errors.Is(err, os.ErrExist) {
		t.Errorf("over a backup that is there: %v", err)
	}
	if err := errors.Join(s.Close(), stop()); err != nil {
		t.Fatal(err)
	}
	house := t.TempDir()
	done, err := restore(t, house, file, false, false)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Join(done.Put, " ") != "ledger.db thoud.toml profiles" {
		t.Errorf("put %v", done.Put)
	}
	if _, err := os.Stat(filepath.Join(house, "key")); err == nil {
		t.Error("a file that is no part of a backup came with it")
	}
	if set, err := service.ReadSettings(house); err != nil || set.Lockout != "400ms" {
		t.Errorf("settings %+v, %v", set, err)
	}
	if p, err := service.LoadProfiles(filepath.Join(house, service.ProfilesFolder)); err != nil || p["my-scale"].Name == "" {
		t.Errorf("the own profile did not come along: %v", err)
	}
	c, _ = MustRun(t, house)
	if st, err := c.Status(t.Context()); err != nil || len(st.Gauges) != 1 {
		t.Errorf("after the move: %+v, %v", st.Gauges, err)
	}
}

// A folder with a stream is not touched until it is said what shall become of the newer entries.
func TestRestoreDoesNotMixWithANewerStream(t *testing.T) {
	dir := t.TempDir()
	c, stop := MustRun(t, dir)
	add := func(name string) {
		t.Helper()
		if a, err := c.Do(t.Context(), bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd,
			Register: &bench.Gauge{Name: name, Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}}); err != nil || !a.OK {
			t.Fatalf("gauge-add: %v, %+v", err, a)
		}
	}
	add("first")
	if _, err := c.Status(t.Context()); err != nil { // the ledger has it
		t.Fatal(err)
	}
	s, err := store.OpenReadOnly(t.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "copy.db")
	if err := errors.Join(service.Backup(t.Context(), s, dir, file, nil), s.Close()); err != nil {
		t.Fatal(err)
	}
	add("second")
	if _, err := restore(t, dir, file, false, true); !errors.Is(err, service.ErrLocked) {
		t.Errorf("under a running service: %v, want ErrLocked", err)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if _, err := restore(t, dir, file, false, false); !errors.Is(err, service.ErrStream) {
		t.Errorf("with a stream and no word: %v, want ErrStream", err)
	}
	gauges := func() int {
		c, stop := MustRun(t, dir)
		st, err := c.Status(t.Context())
		if err := errors.Join(err, stop()); err != nil {
			t.Fatal(err)
		}
		return len(st.Gauges)
	}
	if n := gauges(); n != 2 {
		t.Errorf("after the refusals there are %d gauges, want 2: something was changed", n)
	}
	if _, err := restore(t, dir, file, true, false); err != nil {
		t.Fatal(err)
	}
	if n := gauges(); n != 2 {
		t.Errorf("with the stream kept there are %d gauges, want 2", n)
	}
	done, err := restore(t, dir, file, false, true)
	if err != nil {
		t.Fatal(err)
	}
	if n := gauges(); n != 1 {
		t.Errorf("with the stream dropped there are %d gauges, want 1", n)
	}
	for _, name := range []string{service.LedgerName, service.BusFolder} {
		if _, err := os.Stat(filepath.Join(done.Aside, name)); err != nil {
			t.Errorf("%s was not set aside: %v", name, err)
		}
	}
}

// What is no backup, or a damaged one, changes nothing.
func TestRestoreRefusesWhatIsNoBackup(t *testing.T) {
	dir := t.TempDir()
	for name, b := range map[string][]byte{"nothing": nil, "text": []byte("hello"), "gzip of nothing": {0x1f, 0x8b, 8, 0}} {
		file := filepath.Join(t.TempDir(), "file")
		if err := os.WriteFile(file, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := restore(t, dir, file, false, false); err == nil {
			t.Errorf("%s was restored", name)
		}
	}
	file := filepath.Join(t.TempDir(), "ledger.db")
	unzipped(t, file)
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(b), `"text":"+0.1423 in"`)
	if at < 0 {
		t.Fatal("the ledger has no such reading")
	}
	b[at+len(`"text":"+0.142`)] = '9'
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := restore(t, dir, file, false, false); !errors.Is(err, service.ErrNotWhole) {
		t.Errorf("a changed reading: %v, want ErrNotWhole", err)
	}
	left, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range left {
		if e.Name() != "lock" {
			t.Errorf("%s is left in the state folder", e.Name())
		}
	}
}
