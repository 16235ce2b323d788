package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"thoud/calc"
	"thoud/capture/bench"
)

// hash is a SHA-256.
type hash = [sha256.Size]byte

// withoutRequest is a result as it is stored: what was asked lies in a table of its own, each distinct request once.
type withoutRequest struct {
	bench.Result
	Request *calc.Request `json:"request,omitempty"` // hides the result's own
}

// putResult stores a result with its request.
func putResult(ctx context.Context, tx writing, benchName string, r bench.Result, running *hash) error {
	asked, err := r.Request.AppendJSON(nil)
	if err == nil {
		err = tx.putRun(ctx, benchName, r, asked, running)
	}
	if err != nil {
		return fmt.Errorf("result of %s: %w", r.Slot(), err)
	}
	return nil
}

func (w writing) putRun(ctx context.Context, benchName string, r bench.Result, asked []byte, running *hash) error {
	body, err := json.Marshal(withoutRequest{Result: r})
	if err != nil {
		return err
	}
	sum := sha256.Sum256(asked)
	request, err := w.request(ctx, sum, asked)
	if err != nil {
		return err
	}
	*running = runningAfter(*running, sum, body)
	return w.insertRun(ctx, benchName, r, request, pack(body), *running)
}

// insertRun stores a result's row, packed, with the sum after it.
func (w writing) insertRun(ctx context.Context, benchName string, r bench.Result, request int64, packed []byte, running hash) error {
	done, err := w.exec(ctx, putRun, benchName, r.Build, r.Step, r.Pass, r.Key, int64(r.N), r.Method, r.Version, r.Rules, string(r.Verdict), r.Provisional,
		request, packed, running[:])
	if err != nil {
		return err
	}
	id, err := done.LastInsertId()
	if err != nil {
		return err
	}
	for _, reading := range r.Readings {
		if _, err := w.exec(ctx, putUsed, reading, id); err != nil {
			return err
		}
	}
	return nil
}

// runningAfter goes on with the sum over all results: SHA-256 of the sum before, the request's hash and the body as it
// was before packing.
func runningAfter(before, request hash, body []byte) hash {
	h := sha256.New()
	h.Write(before[:])
	h.Write(request[:])
	h.Write(body)
	var after hash
	h.Sum(after[:0])
	return after
}

// request finds a request that was stored before, or stores it.
func (w writing) request(ctx context.Context, sum hash, body []byte) (int64, error) {
	var id int64
	err := w.row(ctx, askRequest, sum[:]).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	done, err := w.exec(ctx, putRequest, sum[:], pack(body))
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// runningNow is the sum over every result stored so far.
func (w writing) runningNow(ctx context.Context, benchName string) (hash, error) {
	var sum hash
	var b []byte
	err := w.row(ctx, askRunning, benchName).Scan(&b)
	if errors.Is(err, sql.ErrNoRows) {
		return runningOf(ctx, w, benchName)
	}
	copy(sum[:], b)
	return sum, err
}

// runningOf is the sum over every result of a bench stored so far: that of the last; before there is one in this form, what
// the older form left; before that, the sum over those that a line shares with the one it parts from.
func runningOf(ctx context.Context, q queryer, benchName string) (hash, error) {
	var sum hash
	var b []byte
	err := q.QueryRowContext(ctx, `SELECT coalesce((SELECT running FROM run WHERE bench = ?1 ORDER BY id DESC LIMIT 1), unhex((SELECT value FROM meta WHERE name = ?2)),
		(SELECT running FROM line WHERE bench = ?1), x'')`, benchName, metaOldRunning+benchName).Scan(&b)
	copy(sum[:], b)
	return sum, err
}

// metaOldRunning, with the bench's name behind it, is the name in meta of the sum over the results of the first form; form 2,
// which had one bench a file, left the name out.
const metaOldRunning = "running-1 "

// oldRunning sums up the results that earlier programs stored: their bodies, request and all, in the order stored.
func oldRunning(ctx context.Context, tx writing, step func()) error {
	rows, err := tx.QueryContext(ctx, "SELECT body FROM result ORDER BY id")
	if err != nil {
		return err
	}
	defer rows.Close()
	var sum hash
	any := false
	for rows.Next() {
		var body sql.RawBytes
		if err := rows.Scan(&body); err != nil {
			return err
		}
		sum, any = runningAfter(sum, hash{}, body), true
		step()
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil || !any {
		return err
	}
	_, err = tx.ExecContext(ctx, "INSERT INTO meta (name, value) VALUES ('running-1', hex(?))", sum[:])
	return err
}

// storedRun is a result's row as it is read: of the newer form with its request's hash, of the first form whole.
type storedRun struct {
	id      int64
	n       uint64
	slot    bench.Slot
	rules   int
	body    []byte // unpacked, without the request where asked is set
	asked   hash   // of the request; zero: the body is whole
	request []byte // unpacked, only where it was asked for
	running hash   // as stored
	columns runColumns

	// As they lie in the row, until they are unpacked; nil before and after where there is nothing to unpack.
	packedBody, packedRequest []byte

	wantRunning hash  // as the rows up to here give it
	bad         error // why the body cannot be unpacked
}

// runColumns are the columns beside a body, which say the same as the body does.
type runColumns struct {
	method, verdict string
	version         int
	provisional     bool
}

// The ways to read results. What earlier programs stored comes first: its ids are smaller.
const (
	oldRunColumns   = "id, n, build, step, pass, key, 0, method, version, verdict, provisional, body, NULL, NULL, NULL"
	runColumnsTo    = "run.id, run.n, run.build, run.step, run.pass, run.key, run.rules, run.method, run.version, run.verdict, run.provisional, run.body, request.hash, "
	fullRunColumns  = runColumnsTo + "request.body, run.running"
	lightRunColumns = runColumnsTo + "NULL, run.running"
	fromRun         = " FROM run JOIN request ON request.id = run.request "
)

// eachRun gives the results that a condition lets pass, in the order they were stored, without their requests. It ends
// early where fn gives errEnough.
func eachRun(ctx context.Context, q queryer, where, order string, args []any, fn func(storedRun) error) error {
	for _, query := range []string{
		"SELECT " + oldRunColumns + " FROM result WHERE " + where + order,
		"SELECT " + lightRunColumns + fromRun + "WHERE " + where + order,
	} {
		if err := readRuns(ctx, q, query, args, fn); err != nil {
			if errors.Is(err, errEnough) {
				return nil
			}
			return err
		}
	}
	return nil
}

// packedRuns gives the results of a bench that a condition lets pass with their requests, in the order they were computed,
// as they lie in their rows.
func packedRuns(ctx context.Context, q queryer, where string, args ...any) ([]storedRun, error) {
	var out []storedRun
	for _, query := range []string{
		"SELECT " + oldRunColumns + " FROM result WHERE " + where + " ORDER BY n, id",
		"SELECT " + fullRunColumns + fromRun + "WHERE " + where + " ORDER BY n, run.id",
	} {
		err := readPackedRuns(ctx, q, query, args, func(r storedRun) error { out = append(out, r); return nil })
		if err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(a, b storedRun) int { return cmp.Compare(a.n, b.n) })
	return out, nil
}

// errEnough ends a walk early, without a fault.
var errEnough = errors.New("enough")

// readRuns gives the rows of a query, each unpacked.
func readRuns(ctx context.Context, q queryer, query string, args []any, fn func(storedRun) error) error {
	return readPackedRuns(ctx, q, query, args, func(r storedRun) error {
		if err := r.unpack(); err != nil {
			return err
		}
		return fn(r)
	})
}

// readPackedRuns gives the rows of a query as they lie there.
func readPackedRuns(ctx context.Context, q queryer, query string, args []any, fn func(storedRun) error) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		r, err := scanRun(rows)
		if err == nil {
			err = fn(r)
		}
		if err != nil {
			return err
		}
	}
	return rows.Err()
}

func scanRun(rows *sql.Rows) (storedRun, error) {
	var r storedRun
	var n int64
	var asked, running, body, request sql.RawBytes
	c := &r.columns
	err := rows.Scan(&r.id, &n, &r.slot.Build, &r.slot.Step, &r.slot.Pass, &r.slot.Key, &r.rules, &c.method, &c.version, &c.verdict, &c.provisional,
		&body, &asked, &request, &running)
	if err != nil {
		return r, err
	}
	r.n = uint64(n)
	copy(r.running[:], running)
	if asked == nil {
		r.body = bytes.Clone(body)
		return r, nil
	}
	copy(r.asked[:], asked)
	r.packedBody, r.packedRequest = bytes.Clone(body), bytes.Clone(request)
	return r, nil
}

// unpack makes body and request of what lies in the row. A body that cannot be unpacked is told by what decodes it; verify
// goes on behind it.
func (r *storedRun) unpack() (err error) {
	body, request := r.packedBody, r.packedRequest
	r.packedBody, r.packedRequest = nil, nil
	if body == nil {
		return nil
	}
	if r.body, r.bad = unpack(body); r.bad != nil {
		r.bad = fmt.Errorf("result %d of entry %d: %w; verify tells more", r.id, r.n, r.bad)
		return nil
	}
	if request != nil {
		if r.request, err = unpack(request); err != nil {
			return fmt.Errorf("request of result %d of entry %d: %w; verify tells more", r.id, r.n, err)
		}
	}
	return nil
}

// row is what the row is called in a finding.
func (r storedRun) row() string { return fmt.Sprintf("result %d (%s, of entry %d)", r.id, r.slot, r.n) }

// whole reports whether the row is one of the first form, whose body holds its request.
func (r storedRun) whole() bool { return r.asked == hash{} }

// light gives the result with what was asked left out but for its hash, as it is kept in memory.
func (r storedRun) light() (bench.Result, error) {
	if r.bad != nil {
		return bench.Result{}, r.bad
	}
	res, asked, err := bench.DecodeResult(r.body)
	if err != nil {
		return bench.Result{}, fmt.Errorf("result %d of entry %d: %w; verify tells more", r.id, r.n, err)
	}
	res.Asked = r.asked
	if r.whole() {
		res.Asked = sha256.Sum256(asked)
	}
	return res, nil
}

// full gives the result with its request, where that was read.
func (r storedRun) full() (bench.Result, error) {
	if r.bad != nil {
		return bench.Result{}, r.bad
	}
	res, asked, err := bench.DecodeResult(r.body)
	if r.request != nil {
		asked = r.request
	}
	if err == nil && asked != nil {
		res.Request, err = calc.DecodeRequest(asked)
	}
	if err != nil {
		return res, fmt.Errorf("result %d of entry %d: %w; verify tells more", r.id, r.n, err)
	}
	res.Asked = r.asked
	if r.whole() {
		asked, err := res.Request.AppendJSON(nil)
		if err != nil {
			return res, err
		}
		res.Asked = sha256.Sum256(asked)
	}
	return res, nil
}

// requestBody asks for the bytes of a request, by its hash.
const requestBody = "SELECT body FROM request WHERE hash = ?"

// readRequest reads the request that a row holds, see requestOf.
func readRequest(row *sql.Row, asked hash) (req calc.Request, err error) {
	var unread error
	if err = requestOf(row, asked, func(body []byte) { req, unread = calc.DecodeRequest(body) }); err == nil {
		err = unread
	}
	return req, err
}

// requestOf gives fn the bytes of a request, which must have the hash by which they are kept. They are fn's only until that
// returns.
func requestOf(row *sql.Row, asked hash, fn func(body []byte)) error {
	var packed []byte
	if err := row.Scan(&packed); err != nil {
		return err
	}
	var has hash
	err := unpacked(packed, func(body []byte) {
		if has = sha256.Sum256(body); has == asked {
			fn(body)
		}
	})
	if err == nil && has != asked {
		err = fmt.Errorf("its bytes do not have the hash %x by which it is kept: it was changed after it was stored", asked[:6])
	}
	return err
}
