package store_test

import (
	"bytes"
	"compress/flate"
	"database/sql"
	"encoding/json"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/store/ledgertest"
)

// Every entry, result and request of the kept ledgers reads as encoding/json (Go's standard library) reads it, and so does each
// with a byte of it changed.
func TestKeptBodiesReadAsTheStandardLibraryReadsThem(t *testing.T) {
	kept, err := filepath.Glob("../testdata/ledger/*/ledger.db.gz")
	if err != nil || len(kept) < 4 {
		t.Fatalf("kept ledgers: %v, %v", kept, err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	signs := []byte(`{}[]":,\0129.-eEnut ½abc`)
	changed := func(body []byte) []byte {
		out := bytes.Clone(body)
		switch at := random.IntN(len(out)); random.IntN(3) {
		case 0:
			out[at] = signs[random.IntN(len(signs))]
		case 1:
			return append(out[:at], out[at+1:]...)
		default:
			return append(out[:at:at], append([]byte{signs[random.IntN(len(signs))]}, body[at:]...)...)
		}
		return out
	}
	for _, path := range kept {
		read := 0
		each := func(body []byte, hold func(t *testing.T, body []byte)) {
			read++
			hold(t, body)
			if len(body) < 30_000 {
				for range 3 {
					hold(t, changed(body))
				}
			}
		}
		db := keptLedger(t, path)
		column(t, db, "SELECT body FROM entry", func(body []byte) { each(body, holdEntry) })
		if has(t, db, "result") {
			column(t, db, "SELECT body FROM result", func(body []byte) { each(body, holdResult) })
		}
		if has(t, db, "run") {
			column(t, db, "SELECT body FROM run", func(packed []byte) { each(inflated(t, packed), holdResult) })
			column(t, db, "SELECT body FROM request", func(packed []byte) { each(inflated(t, packed), holdRequest) })
		}
		if read < 1000 {
			t.Errorf("%s: only %d bodies", path, read)
		}
	}
}

func holdEntry(t *testing.T, body []byte) {
	t.Helper()
	got, err := bench.Decode(body)
	var want bench.Entry
	switch bad := json.Unmarshal(body, &want); {
	case err == nil && bad != nil:
		t.Errorf("%s: read, encoding/json says %v", body, bad)
	case err == nil && !reflect.DeepEqual(got, want):
		t.Errorf("%s\nread as %+v\nby encoding/json %+v", body, got, want)
	}
}

func holdResult(t *testing.T, body []byte) {
	t.Helper()
	got, asked, err := bench.DecodeResult(body)
	var want struct {
		bench.Result
		Request json.RawMessage `json:"request"`
	}
	if bad := json.Unmarshal(body, &want); (bad == nil) != (err == nil) || err == nil && (!reflect.DeepEqual(got, want.Result) || !bytes.Equal(asked, want.Request)) {
		t.Errorf("%s\nread as %+v, %v\nby encoding/json %+v, %v", body, got, err, want, bad)
	}
}

func holdRequest(t *testing.T, body []byte) {
	t.Helper()
	got, err := calc.DecodeRequest(body)
	var want calc.Request
	if bad := json.Unmarshal(body, &want); (bad == nil) != (err == nil) || err == nil && !reflect.DeepEqual(got, want) {
		t.Errorf("%s\nread as %+v, %v\nby encoding/json %+v, %v", body, got, err, want, bad)
	}
	if err != nil {
		return
	}
	written, err := got.AppendJSON(nil)
	if by, bad := json.Marshal(got); (bad == nil) != (err == nil) || err == nil && !bytes.Equal(written, by) {
		t.Errorf("written %s, %v\nby encoding/json %s, %v", written, err, by, bad)
	}
}

func keptLedger(t *testing.T, path string) *sql.DB {
	t.Helper()
	to := filepath.Join(t.TempDir(), "ledger.db")
	if err := os.WriteFile(to, ledgertest.Unzip(t, path), 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", to)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func has(t *testing.T, db *sql.DB, table string) (is bool) {
	t.Helper()
	if err := db.QueryRow("SELECT count(*) > 0 FROM sqlite_master WHERE name = ?", table).Scan(&is); err != nil {
		t.Fatal(err)
	}
	return is
}

func column(t *testing.T, db *sql.DB, query string, fn func(body []byte)) {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var body []byte
		if err := rows.Scan(&body); err != nil {
			t.Fatal(err)
		}
		fn(body)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
}

// inflated is a body as it was before it was packed: behind a sign, 'z' for deflate (RFC 1951).
func inflated(t *testing.T, packed []byte) []byte {
	t.Helper()
	if packed[0] != 'z' {
		return packed[1:]
	}
	b, err := io.ReadAll(flate.NewReader(bytes.NewReader(packed[1:])))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
