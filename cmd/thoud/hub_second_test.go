package main

import (
	"bytes"
	"compress/flate"
	"database/sql"
	"errors"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline"
	"thoud/pipeline/hub"
	"thoud/store"
)

// partedAfter is the last entry that the two histories of these tests share: job 17 stands in the middle of its first pass, with
// one contact read.
const partedAfter = 9

// secondOf is the state folder of a bench that was put back to where another folder's ledger had so many entries, and went on
// otherwise: the contact is withdrawn and read again, on the zero from before.
func secondOf(t *testing.T, first string) string {
	t.Helper()
	dir, ctx := t.TempDir(), t.Context()
	own, err := store.OpenReadOnly(ctx, filepath.Join(first, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	s, err := store.Open(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var chain bench.Chain
	state, results := bench.State{}, bench.Results{}
	put := func(e bench.Entry, body []byte) {
		t.Helper()
		if chain, err = chain.Next(e, body); err != nil {
			t.Fatal(err)
		}
		if state, err = bench.Apply(state, e); err != nil {
			t.Fatal(err)
		}
		news := pipeline.Compute(state, e, results)
		results = results.With(news...)
		if err := s.Record(ctx, "lathe", e, body, chain.Seal, news, store.Checkpoint{Generation: "g", Seq: chain.N}); err != nil {
			t.Fatal(err)
		}
	}
	shared, err := own.Entries(ctx, "lathe", store.Filter{To: partedAfter, OldestFirst: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range shared {
		put(r.Entry, r.Body)
	}
	contact := shared[partedAfter-1].Entry
	inch := func(text string) quantity.Value {
		v, err := quantity.ParseAs(quantity.Length, text+" in")
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	read := func(point, text string) bench.Entry {
		at, r := contact.Place, *contact.Reading
		at.Point, r.Frames, r.Text, r.Raw, r.Value = point, [][]byte{[]byte("+" + text + " in\r\n")}, "+"+text+" in", inch(text), inch(text)
		return bench.Entry{Kind: bench.ReadingTaken, Place: at, By: "pedal", Reading: &r}
	}
	pass := contact.Place
	pass.Point, pass.Seating = "", 0
	for i, e := range []bench.Entry{
		{Kind: bench.Withdrawn, Place: contact.Place, Refers: contact.ID, Reason: "slipped"},
		read("left.contact", "0.3880"),
		read("right.contact", "0.3910"),
		{Kind: bench.PassClosed, Place: pass, Drift: &bench.Drift{By: inch("0"), Allowed: inch("0.0005")}},
		{Kind: bench.HoursTold, Life: &bench.Life{Engine: "shop twin no. 4", Hours: 12}},
	} {
		e.Bench, e.ID, e.ClockOK, e.At = "lathe", service.NewID(), true, contact.At+int64(i+1)*90_000_000
		e, body, err := chain.Number(e)
		if err != nil {
			t.Fatal(err)
		}
		put(e, body)
	}
	return dir
}

// takeHistory puts what a state folder has after an entry into a hub's ledger, but for so many of the last results.
func takeHistory(t *testing.T, hubDir, line, from string, after uint64, leftOut int) {
	t.Helper()
	ctx := t.Context()
	name, _ := hub.BenchOf(line)
	own, err := store.OpenReadOnly(ctx, filepath.Join(from, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	runs, err := own.RunSpan(ctx, name, 0, 1000, 1<<30)
	if err != nil {
		t.Fatal(err)
	}
	begin := &store.Line{Name: line}
	before, _, err := own.SealAt(ctx, name, after)
	if err != nil {
		t.Fatal(err)
	}
	rows := runs.Rows
	if after > 0 {
		begin.Parent, begin.Parted = name, bench.Chain{N: after, Seal: before}
		for len(rows) > 0 {
			sum, n, err := store.CheckRun(begin.Begin, rows[0])
			if err != nil {
				t.Fatal(err)
			}
			if n > after {
				break
			}
			begin.Begin, begin.Shared, rows = sum, begin.Shared+1, rows[1:]
		}
	}
	entries, err := own.Entries(ctx, name, store.Filter{From: after + 1, OldestFirst: true})
	if err != nil {
		t.Fatal(err)
	}
	taking := store.Taking{Line: line, Begin: begin, Runs: rows[:len(rows)-leftOut]}
	for _, r := range entries {
		taking.Entries = append(taking.Entries, store.TakenEntry(r))
	}
	s, err := store.Open(ctx, filepath.Join(hubDir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Take(ctx, []store.Taking{taking}); err != nil {
		t.Fatal(err)
	}
}

// What a command says of a bench's second history at the hub is what it says at the bench itself, where that history is all there
// is: the entries before the parting with those after it. Of the first it says what it ever said.
func TestASecondHistoryIsReadWhole(t *testing.T) {
	first := stateOfBench(t, "lathe", "lathe")
	second, hubDir := secondOf(t, first), t.TempDir()
	takeHistory(t, hubDir, "lathe", first, 0, 0)
	takeHistory(t, hubDir, "lathe~2", second, partedAfter, 0)
	file := filepath.Join(t.TempDir(), "copy.tar.gz")
	if out, errs, code := command(hubDir, "backup", file); code != 0 {
		t.Fatalf("code %d: %s%s", code, out, errs)
	}
	if out, errs, code := command(t.TempDir(), "restore", file); code != 0 || !strings.Contains(out, "25 entries") { // 20 and 5
		t.Errorf("restored, code %d: %s%s", code, out, errs)
	}
	saysTheSame(t, hubDir, map[string]string{"lathe": first, "lathe~2": second})
	out, errs, code := command(hubDir, "build", "compare", "lathe/17", "lathe~2/17")
	if code != 0 || !strings.Contains(out, "0.3880 in") || !strings.Contains(out, "0.3900 in") {
		t.Errorf("compared: code %d\n%s%s", code, out, errs)
	}
	out, errs, code = command(hubDir, "verify", "--bench", "lathe~2")
	if code != 0 || !strings.Contains(out, "bench lathe~2: 14 entries, 5 readings") {
		t.Errorf("verify: code %d\n%s%s", code, out, errs)
	}
}

// saysTheSame holds what commands say at a hub of its lines against what they say in the state folder of each.
func saysTheSame(t *testing.T, hubDir string, folders map[string]string) {
	t.Helper()
	for _, args := range [][]string{
		{"readings"},
		{"readings", "--job", "17", "--point", "left.*", "--json"},
		{"export"},
		{"export", "--format", "jsonl"},
		{"build", "list"},
		{"build", "show", "17"},
		{"build", "compare", "17", "17", "--all"},
		{"engine", "list"},
		{"engine", "show", "shop twin no. 4"},
		{"due"},
		{"hands"},
		{"whatif", "--job", "17", "guide-clearance/left.contact=0.3890|in"},
		{"verify", "--json"},
	} {
		for line, own := range folders {
			want, wantErr, wantCode := command(own, args...)
			got, gotErr, gotCode := command(hubDir, append(args, "--bench", line)...)
			if got != want || gotErr != wantErr || gotCode != wantCode {
				t.Errorf("%s of %s: code %d\n%s%s\nat the bench code %d\n%s%s", strings.Join(args, " "), line, gotCode, got, gotErr, wantCode, want, wantErr)
			}
		}
	}
}

// A second history is bound and computed again from its first entry: a result that is missing there is found, though every seal
// and every sum is right, and a backup of it is not restored. So are rows of its own and results that it shares with the first.
func TestASecondHistoryIsComputedAgain(t *testing.T) {
	first := stateOfBench(t, "lathe", "lathe")
	second := secondOf(t, first)
	for _, tt := range []struct {
		name    string
		leftOut int
		tamper  func(*sql.DB) error
		want    string
	}{
		{"a result left out", 1, nil, "is missing: the entries give one here"},
		{"a shared result told otherwise", 0, blankAfterFirstResult, "they do not sum up to what the bench told"},
		{"a shared result in another's place", 0, tampering("UPDATE run SET body = (SELECT body FROM run WHERE id = 3) WHERE id = 1"), "result 1 (job 17, guide-clearance, pass 1, left, of entry 9): its bytes say"},
		{"a shared result gone", 0, tampering("DELETE FROM run_reading WHERE run = 1; DELETE FROM run WHERE id = 1"), "entry 9: a result of job 17, guide-clearance, pass 1, left is missing"},
		{"a shared entry gone", 0, tampering("DROP TRIGGER entry_kept; DELETE FROM entry WHERE bench = 'lathe' AND n = 4"), "what was between them is gone"},
		{"a row of its own changed", 0, tampering("UPDATE reading SET base = 1 WHERE bench = 'lathe~2' AND n = 11"), "its reading's row says"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			hubDir, file := t.TempDir(), filepath.Join(t.TempDir(), "copy.tar.gz")
			takeHistory(t, hubDir, "lathe", first, 0, 0)
			takeHistory(t, hubDir, "lathe~2", second, partedAfter, tt.leftOut)
			if tt.tamper != nil {
				db, err := sql.Open("sqlite", filepath.Join(hubDir, service.LedgerName))
				if err == nil {
					err = tt.tamper(db)
				}
				if err := errors.Join(err, db.Close()); err != nil {
					t.Fatal(err)
				}
			}
			out, errs, code := command(hubDir, "verify", "--bench", "lathe~2")
			if code != 1 || !strings.Contains(out, tt.want) {
				t.Errorf("code %d, %q is not in:\n%s%s", code, tt.want, out, errs)
			}
			if out, errs, code := command(hubDir, "backup", file); code != 0 {
				t.Fatalf("code %d: %s%s", code, out, errs)
			}
			if out, errs, code := command(t.TempDir(), "restore", file); code != 1 || !strings.Contains(errs, "the backup is not whole") {
				t.Errorf("restored, code %d: %s%s", code, out, errs)
			}
		})
	}
}

func tampering(statements string) func(*sql.DB) error {
	return func(db *sql.DB) error {
		_, err := db.Exec(statements)
		return err
	}
}

// blankAfterFirstResult puts a blank after the first result's body: it says the same, and is not what was told.
func blankAfterFirstResult(db *sql.DB) error {
	var packed []byte
	if err := db.QueryRow("SELECT body FROM run WHERE id = 1").Scan(&packed); err != nil {
		return err
	}
	plain := packed[1:]
	if packed[0] == 'z' {
		var err error
		if plain, err = io.ReadAll(flate.NewReader(bytes.NewReader(plain))); err != nil {
			return err
		}
	}
	_, err := db.Exec("UPDATE run SET body = ? WHERE id = 1", append(append([]byte("p"), plain...), ' '))
	return err
}
