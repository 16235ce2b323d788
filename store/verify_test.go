package store_test

import (
	"bytes"
	"compress/flate"
	"context"
	"database/sql"
	"encoding/json"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/store"
)

// clearance computes the left guide block from its two readings, as a recorder does.
func clearance(tb testing.TB, n uint64) bench.Result {
	tb.Helper()
	num := func(x float64) calc.Num {
		return calc.Num{X: x, Us: []calc.Component{{Name: "resolution", U: 0.0037}}}
	}
	start, want, lo, hi := num(10.16), calc.Num{X: 1.27}, 1.2192, 1.3208
	req := calc.Request{Method: "contact-clearance", Digits: 0.0127,
		Inputs: map[string]calc.Val{"start": {Num: &start}, "protrusion": {List: []calc.Num{num(9.906)}}, "now": {Num: ptr(num(8.64))}, "clearance": {Num: &want}},
		Limits: map[string]calc.Limit{"clearance_now": {Lower: &lo, Upper: &hi, Source: "builder's choice"}}}
	res, err := calc.Run(req)
	if err != nil || res.Refused != "" {
		tb.Fatalf("run: %v, refused %q", err, res.Refused)
	}
	if res.Verdict != calc.VerdictIn {
		tb.Fatalf("verdict %q, the fixture wants %q", res.Verdict, calc.VerdictIn)
	}
	return bench.Result{Build: "17", Step: "guide-clearance", Pass: 1, Key: "left", N: n, Readings: []string{"0190-00000006", "0190-00000007"}, Request: req, Result: res}
}

func ptr[T any](x T) *T { return &x }

// editRun changes the body of the only result of a ledger behind the store's back.
func editRun(tb testing.TB, path string, edit func(body map[string]any)) {
	tb.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		tb.Fatal(err)
	}
	defer db.Close()
	var packed []byte
	if err := db.QueryRow("SELECT body FROM run").Scan(&packed); err != nil {
		tb.Fatal(err)
	}
	plain := packed[1:]
	if packed[0] == 'z' {
		if plain, err = io.ReadAll(flate.NewReader(bytes.NewReader(plain))); err != nil {
			tb.Fatal(err)
		}
	}
	var body map[string]any
	if err := json.Unmarshal(plain, &body); err != nil {
		tb.Fatal(err)
	}
	edit(body)
	if plain, err = json.Marshal(body); err != nil {
		tb.Fatal(err)
	}
	if _, err := db.Exec("UPDATE run SET body = ?", append([]byte("p"), plain...)); err != nil {
		tb.Fatal(err)
	}
}

// firstFigure gives the first figure of a result's body.
func firstFigure(body map[string]any) map[string]any {
	return body["figures"].([]any)[0].(map[string]any)
}

// fill records an opening and two readings with the result of the second.
func fill(tb testing.TB, s *store.Store) *hand {
	tb.Helper()
	h := &hand{tb: tb}
	for _, m := range h.opening() {
		m.record(tb, s)
	}
	h.reading("left.start", "0.4120").record(tb, s)
	h.reading("left.contact", "0.4020").record(tb, s, clearance(tb, h.chain.N))
	return h
}

// tamper changes a ledger behind the store's back, as a person with a database tool can.
func tamper(tb testing.TB, path string, statements ...string) {
	tb.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		tb.Fatal(err)
	}
	defer db.Close()
	for _, q := range statements {
		done, err := db.Exec(q)
		if err != nil {
			tb.Fatalf("%s: %v", q, err)
		}
		if n, _ := done.RowsAffected(); strings.HasPrefix(q, "UPDATE") && n != 1 {
			tb.Fatalf("%s: %d rows changed, want 1", q, n)
		}
	}
}

func TestVerifyNamesTheRow(t *testing.T) {
	const unlock = "DROP TRIGGER entry_stays"
	for _, tt := range []struct {
		name    string
		sql     []string
		row     string // "" for no finding
		what    string
		unknown bool
		forge   bool
		edit    func(body map[string]any)
	}{
		{name: "untouched"},
		{name: "a reading's digits", row: "entry 6", what: "changed after it was stored",
			sql: []string{unlock, `UPDATE entry SET body = CAST(replace(CAST(body AS TEXT), '"text":"+0.4120 in"', '"text":"+0.4130 in"') AS BLOB) WHERE n = 6`}},
		{name: "a seal", row: "entry 6", what: "changed after it was stored", sql: []string{unlock, `UPDATE entry SET seal = zeroblob(32) WHERE n = 6`}},
		{name: "an entry taken out", row: "entry 7", what: "does not follow entry 5",
			sql: []string{"DROP TRIGGER entry_kept", "DELETE FROM reading WHERE n = 6", "DELETE FROM entry WHERE n = 6"}},
		{name: "an entry put in another's place, sealed as it should be", row: "entry 7", what: "is sealed onto", forge: true,
			sql: []string{unlock}},
		{name: "a column", row: "entry 6", what: "its columns say", sql: []string{unlock, `UPDATE entry SET point = 'right.start' WHERE n = 6`}},
		{name: "a projection", row: "entry 6", what: "thoud rebuild", sql: []string{`UPDATE reading SET base = base + 0.001 WHERE n = 6`}},
		{name: "a withdrawal nobody made", row: "reading 0190-00000006", what: "which it did not", sql: []string{`UPDATE reading SET withdrawn = 7 WHERE n = 6`}},
		{name: "a projection missing", row: "entry 6", what: "missing", sql: []string{`DELETE FROM reading WHERE n = 6`}},
		{name: "a figure", row: "result 1 (job 17, guide-clearance, pass 1, left, of entry 7)", what: "computed again it is",
			edit: func(b map[string]any) { firstFigure(b)["value"] = firstFigure(b)["value"].(float64) + 1e-6 }},
		{name: "a verdict", row: "result 1 (job 17, guide-clearance, pass 1, left, of entry 7)", what: "verdict",
			edit: func(b map[string]any) { b["verdict"] = "out" }},
		{name: "the last bit of a figure is not a change",
			edit: func(b map[string]any) { firstFigure(b)["value"] = firstFigure(b)["value"].(float64) * (1 + 1e-13) }},
		{name: "another version of the method", row: "result 1 (job 17, guide-clearance, pass 1, left, of entry 7)", what: "not recomputable by this build", unknown: true,
			edit: func(b map[string]any) { b["version"] = 99 }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), store.File)
			s := MustOpenAt(t, path)
			h := fill(t, s)
			tamper(t, path, tt.sql...)
			if tt.edit != nil {
				editRun(t, path, tt.edit)
			}
			if tt.forge {
				forge(t, path)
			}
			last, calls := 0, 0
			rep, err := s.Verify(context.Background(), benchName, store.Check{Progress: func(done, total int) { last, calls = done, calls+1 }})
			if err != nil {
				t.Fatal(err)
			}
			if calls == 0 || last != rep.Entries+rep.Results {
				t.Errorf("progress ended at %d after %d calls, %d rows there", last, calls, rep.Entries+rep.Results)
			}
			rep.Wrong = slices.DeleteFunc(rep.Wrong, unnamed)
			found := rep.Wrong
			if tt.unknown {
				found = rep.Unknown
				for _, f := range rep.Wrong {
					if !strings.Contains(f.What, "its columns say") && !strings.Contains(f.What, "the sum over all") {
						t.Errorf("wrong: %v", f)
					}
				}
			}
			if tt.row == "" {
				found = slices.DeleteFunc(found, func(f store.Finding) bool {
					return tt.edit != nil && strings.HasPrefix(f.What, "the sum over all results")
				})
				if len(found) > 0 {
					t.Errorf("found %v in a ledger that is whole", found)
				}
				if rep.End != h.chain.Seal || rep.Entries != 7 || rep.Results != 1 || rep.Readings != 2 {
					t.Errorf("report %+v", rep)
				}
				return
			}
			if tt.edit != nil { // an edit that leaves sum and columns as they are is told for these too
				found = slices.DeleteFunc(found, func(f store.Finding) bool {
					return strings.HasPrefix(f.What, "the sum over all results") || strings.HasPrefix(f.What, "its columns say") && tt.what != "its columns say"
				})
			}
			if len(found) != 1 || found[0].Row != tt.row || !strings.Contains(found[0].What, tt.what) {
				t.Errorf("found %+v, want one: %s, %s", found, tt.row, tt.what)
			}
		})
	}
}

// unnamed is a finding about these ledgers themselves: their results are of this program's versions, which no entry of
// theirs names.
func unnamed(f store.Finding) bool { return strings.HasSuffix(f.What, "which no entry names") }

// forge changes what entry 6 says and seals it anew, as one who knows how seals are made would.
func forge(t *testing.T, path string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var before, body []byte
	if err := db.QueryRow("SELECT (SELECT seal FROM entry WHERE n = 5), body FROM entry WHERE n = 6").Scan(&before, &body); err != nil {
		t.Fatal(err)
	}
	body = []byte(strings.Replace(string(body), "+0.4120 in", "+0.4130 in", 1))
	seal := bench.Seal(before).After(body)
	if _, err := db.Exec("UPDATE entry SET body = ?, seal = ? WHERE n = 6", body, seal[:]); err != nil {
		t.Fatal(err)
	}
}

func TestEntriesCannotBeChanged(t *testing.T) {
	path := filepath.Join(t.TempDir(), store.File)
	fill(t, MustOpenAt(t, path))
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, q := range []string{"UPDATE entry SET point = 'x' WHERE n = 6", "DELETE FROM entry WHERE n = 7"} {
		if _, err := db.Exec(q); err == nil || !strings.Contains(err.Error(), "never") {
			t.Errorf("%s: %v, want it refused", q, err)
		}
	}
}
