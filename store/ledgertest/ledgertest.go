// Package ledgertest makes ledgers of any length for tests and benchmarks: one kept build, played again and again under
// other job numbers, with ids, times, numbers and seals made anew, so that every seal is right. It computes nothing: the
// results are those of the kept build. It refuses a folder in memory where a benchmark asks: a disk that costs nothing
// to sync would show nothing.
package ledgertest

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	_ "modernc.org/sqlite" // the driver "sqlite"

	"thoud/capture/bench"
)

// Bench is the name of the bench of every made ledger; KeptBench is that of the kept one.
const (
	Bench     = "bench"
	KeptBench = "demo"
)

// Kept is the oldest kept ledger, as a path below the module's root.
const Kept = "testdata/ledger/first-round/ledger.db.gz"

// Entry is one entry of a made ledger.
type Entry struct {
	N         uint64
	ID        string
	Kind      string
	At        int64
	Place     bench.Place
	Body      []byte
	Seal      bench.Seal
	Reading   *Reading
	Withdraws string // id of the reading it withdraws
	Results   []Result
}

// Reading is an entry's row in the table of readings.
type Reading struct {
	Gauge string
	Base  float64
}

// Result is one result that came of an entry, as stored.
type Result struct {
	Slot        bench.Slot
	Method      string
	Version     int
	Verdict     string
	Provisional bool
	Body        []byte
	Readings    []string
}

// Template is the kept build.
type Template struct {
	entries []Entry
	job     string
	prefix  []byte // what all ids begin with
}

// Root finds the module's root from a test's working folder.
func Root(tb testing.TB) string {
	tb.Helper()
	dir, err := os.Getwd()
	for err == nil {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if filepath.Dir(dir) == dir {
			err = errors.New("no go.mod above the working folder")
		}
		dir = filepath.Dir(dir)
	}
	tb.Fatal(err)
	return ""
}

// Unpack writes the kept ledger to a file.
func Unpack(tb testing.TB, path string) {
	tb.Helper()
	if err := os.WriteFile(path, Unzip(tb, filepath.Join(Root(tb), Kept)), 0o640); err != nil {
		tb.Fatal(err)
	}
}

// Unzip reads a file that was packed with gzip.
func Unzip(tb testing.TB, path string) []byte {
	tb.Helper()
	f, err := os.Open(path)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		tb.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// Read reads the kept build.
func Read(tb testing.TB) *Template {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "kept.db")
	Unpack(tb, path)
	db, err := sql.Open("sqlite", "file:"+path+"?mode=ro&immutable=1")
	if err != nil {
		tb.Fatal(err)
	}
	defer db.Close()
	t := &Template{}
	if err := errors.Join(t.readEntries(db), t.readResults(db)); err != nil {
		tb.Fatal(err)
	}
	return t
}

func (t *Template) readEntries(db *sql.DB) error {
	rows, err := db.Query(`SELECT e.n, e.id, e.kind, e.at, e.build, e.step, e.pass, e.point, e.body, r.gauge, r.base, r.seating
		FROM entry e LEFT JOIN reading r USING (bench, n) WHERE bench = ? ORDER BY e.n`, KeptBench)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var e Entry
		var gauge sql.NullString
		var base sql.NullFloat64
		var seating sql.NullInt64
		if err := rows.Scan(&e.N, &e.ID, &e.Kind, &e.At, &e.Place.Build, &e.Place.Step, &e.Place.Pass, &e.Place.Point, &e.Body, &gauge, &base, &seating); err != nil {
			return err
		}
		if gauge.Valid {
			e.Reading = &Reading{gauge.String, base.Float64}
			e.Place.Seating = int(seating.Int64)
		}
		if t.prefix == nil {
			t.prefix = []byte(e.ID[:9])
		}
		if !bytes.HasPrefix([]byte(e.ID), t.prefix) {
			return fmt.Errorf("entry %d has the id %s, which does not begin with %s", e.N, e.ID, t.prefix)
		}
		if e.Kind == string(bench.BuildStarted) {
			var full bench.Entry
			if err := json.Unmarshal(e.Body, &full); err != nil {
				return err
			}
			t.job = full.Build.Job
		}
		if e.Kind == string(bench.Withdrawn) {
			var full bench.Entry
			if err := json.Unmarshal(e.Body, &full); err != nil {
				return err
			}
			e.Withdraws = full.Refers
		}
		t.entries = append(t.entries, e)
	}
	return rows.Err()
}

func (t *Template) readResults(db *sql.DB) error {
	rows, err := db.Query(`SELECT n, build, step, pass, key, method, version, verdict, provisional, body FROM result WHERE bench = ? ORDER BY id`, KeptBench)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var n uint64
		var r Result
		if err := rows.Scan(&n, &r.Slot.Build, &r.Slot.Step, &r.Slot.Pass, &r.Slot.Key, &r.Method, &r.Version, &r.Verdict, &r.Provisional, &r.Body); err != nil {
			return err
		}
		var used struct {
			Readings []string `json:"readings"`
		}
		if err := json.Unmarshal(r.Body, &used); err != nil {
			return err
		}
		r.Readings = used.Readings
		e := &t.entries[n-1]
		e.Results = append(e.Results, r)
	}
	return rows.Err()
}

// Job is the job number of the k-th build, counted from 0.
func (t *Template) Job(k int) string { return fmt.Sprintf("job-%05d", k) }

// gap is how far the builds lie apart in time, in µs: three days.
const gap = 3 * 24 * 3600 * 1_000_000

// Play gives at least so many entries, whole builds, in order, to fn. Every other build is left open, as a shop does
// that starts more than it finishes.
func (t *Template) Play(entries int, fn func(Entry) error) (bench.Chain, error) {
	var chain bench.Chain
	for k := 0; int(chain.N) < entries; k++ {
		for i := range t.entries {
			if k > 0 && t.entries[i].Kind == string(bench.GaugeAdded) {
				continue // the gauges are there already
			}
			e := t.again(&t.entries[i], k, chain)
			chain = bench.Chain{N: e.N, Seal: e.Seal}
			if err := fn(e); err != nil {
				return chain, err
			}
		}
		if k%2 == 0 {
			e, err := t.closing(k, chain)
			if err != nil {
				return chain, err
			}
			chain = bench.Chain{N: e.N, Seal: e.Seal}
			if err := fn(e); err != nil {
				return chain, err
			}
		}
	}
	return chain, nil
}

var (
	numberIn = regexp.MustCompile(`"n":\d+`)
	timeIn   = regexp.MustCompile(`"at":\d+`)
	prevIn   = regexp.MustCompile(`"prev":"[0-9a-f]{64}"`)
)

// swapFirst puts another text in the place of the first match; what is not there stays away.
func swapFirst(b []byte, what *regexp.Regexp, with string) []byte {
	at := what.FindIndex(b)
	if at == nil {
		return b
	}
	out := make([]byte, 0, len(b)+len(with))
	return append(append(append(out, b[:at[0]]...), with...), b[at[1]:]...)
}

// again is an entry of the kept build in its k-th play.
func (t *Template) again(old *Entry, k int, chain bench.Chain) Entry {
	e := *old
	prefix := fmt.Appendf(nil, "%08x-", k+1)
	job, own := []byte(strconv.Quote(t.job)), []byte(strconv.Quote(t.Job(k)))
	name, bench := fmt.Appendf(nil, `"bench":%q`, KeptBench), fmt.Appendf(nil, `"bench":%q`, Bench)
	e.N = chain.N + 1
	e.ID = string(prefix) + old.ID[len(prefix):]
	e.At = old.At + int64(k)*gap
	if old.Place.Build == t.job {
		e.Place.Build = t.Job(k)
	}
	n, at := fmt.Sprintf(`"n":%d`, e.N), fmt.Sprintf(`"at":%d`, e.At)
	rename := func(b []byte) []byte {
		b = bytes.ReplaceAll(b, t.prefix, prefix)
		b = bytes.ReplaceAll(b, job, own)
		return swapFirst(swapFirst(b, numberIn, n), timeIn, at)
	}
	e.Body = bytes.Replace(rename(old.Body), name, bench, 1)
	if old.Withdraws != "" {
		e.Withdraws = string(prefix) + old.Withdraws[len(prefix):]
	}
	if chain.N > 0 {
		with := fmt.Sprintf(`"prev":%q`, chain.Seal)
		if prevIn.Match(e.Body) {
			e.Body = swapFirst(e.Body, prevIn, with)
		}
	}
	e.Seal = chain.Seal.After(e.Body)
	e.Results = make([]Result, len(old.Results))
	for i, r := range old.Results {
		r.Slot.Build = t.Job(k)
		r.Body = rename(r.Body)
		r.Readings = make([]string, len(r.Readings))
		for j, id := range old.Results[i].Readings {
			r.Readings[j] = string(prefix) + id[len(prefix):]
		}
		e.Results[i] = r
	}
	return e
}

func (t *Template) closing(k int, chain bench.Chain) (Entry, error) {
	last := t.entries[len(t.entries)-1]
	draft := bench.Entry{Bench: Bench, ID: fmt.Sprintf("%08x-closed", k+1), Kind: bench.BuildClosed, At: last.At + int64(k)*gap + 1_000_000, ClockOK: true,
		Place: bench.Place{Build: t.Job(k)}, By: "AB"}
	made, body, err := chain.Number(draft)
	if err != nil {
		return Entry{}, err
	}
	return Entry{N: made.N, ID: made.ID, Kind: string(made.Kind), At: made.At, Place: made.Place, Body: body, Seal: chain.Seal.After(body)}, nil
}

// FirstForm writes a ledger of form 1, as the first programs did. The file must not be there.
func (t *Template) FirstForm(ctx context.Context, path string, entries int) (chain bench.Chain, err error) {
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=journal_mode(WAL)&_pragma=synchronous(OFF)&_txlock=immediate")
	if err != nil {
		return chain, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	db.SetMaxOpenConns(1)
	if _, err := db.ExecContext(ctx, firstForm); err != nil {
		return chain, err
	}
	w := &firstWriter{ctx: ctx, db: db}
	chain, err = t.Play(entries, w.put)
	if err != nil {
		return chain, err
	}
	if _, err := w.tx.Exec("INSERT INTO checkpoint (bench, generation, seq) VALUES (?, 'made', ?)", Bench, int64(chain.N)); err != nil {
		return chain, err
	}
	return chain, w.tx.Commit()
}

// OnDisk fails a benchmark whose folder lies in memory.
func OnDisk(tb testing.TB, dir string) {
	tb.Helper()
	kind, err := inMemory(dir)
	if err != nil {
		tb.Fatal(err)
	}
	if kind != "" {
		tb.Fatalf("%s is a folder in memory (%s), where a sync costs nothing: set TMPDIR to one on a disk", dir, kind)
	}
}

// Recorded plays so many entries as a recorder hands them on: decoded, with their results and the stream's sequence.
func (t *Template) Recorded(entries int, put func(e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, seq uint64) error) (bench.Chain, error) {
	return t.Play(entries, func(made Entry) error {
		e, err := bench.Decode(made.Body)
		if err != nil {
			return err
		}
		var results []bench.Result
		for _, r := range made.Results {
			var res bench.Result
			if err := json.Unmarshal(r.Body, &res); err != nil {
				return err
			}
			results = append(results, res)
		}
		return put(e, made.Body, made.Seal, results, made.N)
	})
}
