package main

import (
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// rows counts what a query counts.
func rows(t *testing.T, state, query string) (n int) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.QueryRow(query).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// doSQL changes a ledger behind the program's back.
func doSQL(t *testing.T, state string, statements ...string) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range statements {
		if _, err := db.Exec(q); err != nil {
			t.Fatalf("%s: %v", q, err)
		}
	}
}

// Tables that were damaged are made anew from the entries: verify finds the damage before and none after; results stay as
// they were told. What puts other results in their place wants a backup first.
func TestRebuild(t *testing.T) {
	state := unpackLedger(t, "second-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	results := rows(t, state, "SELECT (SELECT count(*) FROM result) + (SELECT count(*) FROM run)")
	readings := rows(t, state, "SELECT count(*) FROM reading")
	doSQL(t, state, "DELETE FROM reading WHERE id IN (SELECT id FROM reading LIMIT 3)")
	if out, _, code := thoud(t, "--state", state, "verify"); code != exitNo || !strings.Contains(out, "rebuild") {
		t.Fatalf("verify of damaged tables: status %d: %s", code, lastLines(out, 5))
	}
	out, errs, code := thoud(t, "--state", state, "rebuild")
	if code != exitDone || !strings.Contains(out, "made anew from") {
		t.Fatalf("status %d: %s%s", code, out, errs)
	}
	if out, errs, code := thoud(t, "--state", state, "verify"); code != exitDone {
		t.Errorf("verify after it: status %d: %s%s", code, lastLines(out, 5), errs)
	}
	if r, n := rows(t, state, "SELECT (SELECT count(*) FROM result) + (SELECT count(*) FROM run)"), rows(t, state, "SELECT count(*) FROM reading"); r != results || n != readings {
		t.Errorf("%d results and %d readings, before the damage %d and %d", r, n, results, readings)
	}

	if _, errs, code := thoud(t, "--state", state, "rebuild", "--recompute"); code != exitNo || !strings.Contains(errs, "--backup FILE") {
		t.Errorf("without a backup: status %d: %s", code, errs)
	}
	copied := filepath.Join(t.TempDir(), "before.db")
	out, errs, code = thoud(t, "--state", state, "rebuild", "--recompute", "--backup", copied, "--json")
	var said struct {
		Entries, Readings int
		Changed           *int `json:"results_changed"`
	}
	if err := json.Unmarshal([]byte(out), &said); code != exitDone || err != nil || said.Readings != readings || said.Changed == nil {
		t.Errorf("with one: status %d, %v: %s%s", code, err, out, errs)
	}
	if info, err := os.Stat(copied); err != nil || info.Size() == 0 {
		t.Errorf("the backup: %v", err)
	}
	if _, errs, code := thoud(t, "--state", state, "rebuild", "--recompute", "--backup", copied); code == exitDone {
		t.Errorf("an older backup is written over: %s", errs)
	}
	if out, errs, code := thoud(t, "--state", state, "verify"); code != exitDone {
		t.Errorf("verify after it: status %d: %s%s", code, lastLines(out, 5), errs)
	}

	lock, err := service.Lock(state)
	if err != nil {
		t.Fatal(err)
	}
	defer lock.Close()
	if _, errs, code := thoud(t, "--state", state, "rebuild"); code != exitNo || !strings.Contains(errs, "another thoud service") {
		t.Errorf("while a service runs: status %d: %s", code, errs)
	}
	if _, _, code := thoud(t, "--state", t.TempDir(), "rebuild"); code != exitNoLedger {
		t.Errorf("without a ledger: status %d", code)
	}
}

// What was set aside is listed with why, and shown byte for byte.
func TestQuarantine(t *testing.T) {
	state := unpackLedger(t, "second-round")
	s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	name, err := s.Bench(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if out, _, code := thoud(t, "--state", state, "quarantine", "list"); code != exitDone || out != "nothing was set aside\n" {
		t.Errorf("before: status %d: %s", code, out)
	}
	for _, m := range []struct{ body, why string }{
		{"{\"v\":1,\"bench\":\"" + name + "\",\"n\":9999,\"id\":\"x\",\"kind\":\"dropped\",\"at\":1,\"clock_ok\":true,\"place\":{}}", "a hole before it"},
		{"no entry\x1b[2J at all", "cannot be decoded"},
	} {
		if err := s.Quarantine(t.Context(), name, []byte(m.body), m.why, store.Checkpoint{}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	out, errs, code := thoud(t, "--state", state, "quarantine", "list")
	for _, want := range []string{"entry 9999 of bench " + name + ", dropped", "a hole before it", "19 bytes", "cannot be decoded"} {
		if code != exitDone || !strings.Contains(out, want) {
			t.Errorf("list: status %d, no %q in %s%s", code, want, out, errs)
		}
	}
	out, _, code = thoud(t, "--state", state, "quarantine", "list", "--json")
	var all []struct {
		ID   int64
		Why  string
		Body []byte
	}
	if err := json.Unmarshal([]byte(out), &all); err != nil || code != exitDone || len(all) != 2 {
		t.Fatalf("list --json: status %d, %v: %s", code, err, out)
	}
	if out, _, code := thoud(t, "--state", state, "quarantine", "show", "1"); code != exitDone || !strings.Contains(out, "a hole before it") || !strings.Contains(out, `"n":9999`) {
		t.Errorf("show 1: status %d: %s", code, out)
	}
	if out, _, code := thoud(t, "--state", state, "quarantine", "show", "2"); code != exitDone || !strings.Contains(out, `"no entry\x1b[2J at all"`) || strings.Contains(out, "\x1b") {
		t.Errorf("show 2: status %d: %q", code, out)
	}
	for _, no := range []string{"3", "x"} {
		if _, errs, code := thoud(t, "--state", state, "quarantine", "show", no); code != exitNo || !strings.Contains(errs, "thoud quarantine list") {
			t.Errorf("show %s: status %d: %s", no, code, errs)
		}
	}
}
