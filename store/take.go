package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"thoud/capture/bench"
)

// Line is one history of a bench as a hub has it. A bench has one; where it went on from an older copy of itself, the
// entries that differ are a line of their own.
type Line struct {
	Name    string // under which its rows are kept
	Parent  string // the line it parts from; "" for the first
	Parted  bench.Chain
	Shared  int   // results that it shares with that line
	Begin   hash  // the sum over those
	Row     int64 // the bench's own number of the last result that is here
	Results int   // how many results there are, the shared ones too
	Running hash  // the sum over them
	Note    string
	Machine string
	At      int64 // µs since 1970, UTC
	End     bench.Chain
}

// Lines gives every line of the ledger with where it ends, in the order of their names.
func (s *Store) Lines(ctx context.Context) ([]Line, error) {
	var out []Line
	err := s.reading(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, "SELECT bench, parent, n, seal, shared, running, row, results, note, machine, at FROM line ORDER BY bench")
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var l Line
			var n int64
			var seal, running []byte
			if err := rows.Scan(&l.Name, &l.Parent, &n, &seal, &l.Shared, &running, &l.Row, &l.Results, &l.Note, &l.Machine, &l.At); err != nil {
				return err
			}
			l.Parted.N = uint64(n)
			copy(l.Parted.Seal[:], seal)
			copy(l.Begin[:], running)
			out = append(out, l)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return err
		}
		for i := range out {
			if out[i].End, err = lastOf(ctx, tx, out[i].Name); err != nil {
				return err
			}
			if out[i].Running, err = runningOf(ctx, tx, out[i].Name); err != nil {
				return err
			}
		}
		return nil
	})
	return out, s.fault(err)
}

// Taking is what of one line is to be taken into a hub's ledger: entries, then results. Nothing of it is computed here: the
// results are the bench's own.
type Taking struct {
	Line    string
	Entries []TakenEntry
	Runs    []RunRow
	// Set, where not nil, changes what is kept of the line beside that.
	Set func(*Line)
	// Begin, where not nil, is the line, which begins with this.
	Begin *Line
}

// TakenEntry is an entry with its bytes and seal.
type TakenEntry struct {
	Entry bench.Entry
	Body  []byte
	Seal  bench.Seal
}

// begin makes a line that parts from another; of a first line, Parent is empty and nothing is shared.
func (l Line) begin(ctx context.Context, tx writing) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO line (bench, parent, n, seal, shared, running, row, results, note, machine, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		l.Name, l.Parent, int64(l.Parted.N), l.Parted.Seal[:], l.Shared, l.Begin[:], l.Row, l.Shared, l.Note, l.Machine, l.At)
	return err
}

// Take stores what was pulled of any number of lines in one transaction: all of it, or nothing. Every entry is held against
// its line once more. Errors wrap bench.ErrFork where an entry does not follow, ErrKnown where its id is another entry's.
func (s *Store) Take(ctx context.Context, all []Taking) error {
	err := s.inTx(ctx, func(ctx context.Context, tx writing) error {
		for _, t := range all {
			if err := s.takeOne(ctx, tx, t); err != nil {
				return fmt.Errorf("bench %s: %w", t.Line, err)
			}
		}
		return nil
	})
	if err != nil {
		return s.fault(err)
	}
	s.committed(Position{})
	return nil
}

func (s *Store) takeOne(ctx context.Context, tx writing, t Taking) error {
	if t.Begin != nil {
		if err := t.Begin.begin(ctx, tx); err != nil {
			return err
		}
	}
	for _, e := range t.Entries {
		if err := takeEntry(ctx, tx, t.Line, e); err != nil {
			return fmt.Errorf("entry %d (%s): %w", e.Entry.N, e.Entry.Kind, err)
		}
	}
	if len(t.Runs) > 0 {
		if err := takeRuns(ctx, tx, t.Line, t.Runs); err != nil {
			return err
		}
	}
	var l Line
	if err := tx.QueryRowContext(ctx, "SELECT row, results, note, machine, at FROM line WHERE bench = ?", t.Line).Scan(&l.Row, &l.Results, &l.Note, &l.Machine, &l.At); err != nil {
		return err
	}
	if n := len(t.Runs); n > 0 {
		l.Row, l.Results = t.Runs[n-1].Row, l.Results+n
	}
	if t.Set != nil {
		t.Set(&l)
	}
	_, err := tx.ExecContext(ctx, "UPDATE line SET row = ?, results = ?, note = ?, machine = ?, at = ? WHERE bench = ?", l.Row, l.Results, l.Note, l.Machine, l.At, t.Line)
	return err
}

// takeEntry stores an entry that follows, with its projections.
func takeEntry(ctx context.Context, tx writing, line string, t TakenEntry) error {
	e, p := t.Entry, t.Entry.Place
	id, there, err := tx.idIn(ctx, line, e.ID)
	if err != nil {
		return err
	}
	if known, err := follows(ctx, tx, line, there, e, t.Body, t.Seal); err != nil || known {
		if err == nil {
			err = fmt.Errorf("id %s %w", e.ID, ErrKnown)
		}
		return err
	}
	done, err := tx.exec(ctx, putEntry, line, int64(e.N), id, string(e.Kind), e.At, p.Build, p.Step, p.Pass, p.Point, t.Body, t.Seal[:])
	if err != nil {
		return err
	}
	row, err := done.LastInsertId()
	if err != nil {
		return err
	}
	return project(ctx, tx, line, row, e)
}

// takeRuns stores results as the bench has them, in its order.
func takeRuns(ctx context.Context, tx writing, line string, runs []RunRow) error {
	running, err := tx.runningNow(ctx, line)
	for i := 0; i < len(runs) && err == nil; i++ {
		if runs[i].Old {
			err = takeOld(ctx, tx, line, runs[i], &running)
		} else {
			err = takeRun(ctx, tx, line, runs[i], &running)
		}
		if err != nil {
			err = fmt.Errorf("result %d: %w", runs[i].Row, err)
		}
	}
	return err
}

func takeRun(ctx context.Context, tx writing, line string, r RunRow, running *hash) error {
	request, err := unpack(r.Request)
	if err != nil {
		return err
	}
	if sha256.Sum256(request) != r.Asked {
		return fmt.Errorf("what was asked does not have the hash %x by which it is named", r.Asked[:6])
	}
	body, err := unpack(r.Body)
	if err != nil {
		return err
	}
	res, _, err := bench.DecodeResult(body)
	if err != nil {
		return err
	}
	id, err := tx.requestAsPacked(ctx, r.Asked, r.Request)
	if err != nil {
		return err
	}
	*running = runningAfter(*running, r.Asked, body)
	return tx.insertRun(ctx, line, res, id, r.Body, *running)
}

// requestAsPacked is request for one that is packed already.
func (w writing) requestAsPacked(ctx context.Context, sum hash, packed []byte) (int64, error) {
	var id int64
	err := w.row(ctx, askRequest, sum[:]).Scan(&id)
	if !errors.Is(err, sql.ErrNoRows) {
		return id, err
	}
	done, err := w.exec(ctx, putRequest, sum[:], packed)
	if err != nil {
		return 0, err
	}
	return done.LastInsertId()
}

// takeOld stores a result of the first form as it is.
func takeOld(ctx context.Context, tx writing, line string, r RunRow, running *hash) error {
	var res bench.Result
	if err := json.Unmarshal(r.Body, &res); err != nil {
		return err
	}
	done, err := tx.ExecContext(ctx, "INSERT INTO result (bench, build, step, pass, key, n, method, version, verdict, provisional, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		line, res.Build, res.Step, res.Pass, res.Key, int64(res.N), res.Method, res.Version, string(res.Verdict), res.Provisional, r.Body)
	if err != nil {
		return err
	}
	id, err := done.LastInsertId()
	if err != nil {
		return err
	}
	for _, reading := range slices.Compact(slices.Sorted(slices.Values(res.Readings))) {
		if _, err := tx.ExecContext(ctx, "INSERT INTO result_reading (reading, result) VALUES (?, ?)", reading, id); err != nil {
			return err
		}
	}
	*running = runningAfter(*running, hash{}, r.Body)
	_, err = tx.ExecContext(ctx, "INSERT INTO meta (name, value) VALUES (?, hex(?)) ON CONFLICT (name) DO UPDATE SET value = excluded.value", metaOldRunning+line, running[:])
	return err
}

// CheckRun works out the sum after a result, and the entry it came of, without storing it: what was altered on the way, or
// is another's, gives another sum than the bench says.
func CheckRun(before [32]byte, r RunRow) (after [32]byte, n uint64, err error) {
	body, asked := r.Body, hash{}
	if !r.Old {
		asked = r.Asked
		if body, err = unpack(r.Body); err != nil {
			return after, 0, fmt.Errorf("result %d: %w", r.Row, err)
		}
	}
	var at struct {
		N uint64 `json:"n"`
	}
	if err := json.Unmarshal(body, &at); err != nil {
		return after, 0, fmt.Errorf("result %d: %w", r.Row, err)
	}
	return runningAfter(before, asked, body), at.N, nil
}

// part is where some of a line's entries lie: its own, or those it shares with the line it parts from.
type part struct {
	bench string
	to    uint64 // the last entry that counts
}

// spansOf lists where a line's entries lie, the oldest first; a bench with one history has one part.
func spansOf(ctx context.Context, q queryer, benchName string) ([]part, error) {
	all := []part{{benchName, Newest}}
	for len(all) < 100 { // more lines than a bench ever parts into
		var parent string
		var n int64
		err := q.QueryRowContext(ctx, "SELECT parent, n FROM line WHERE bench = ? AND parent <> ''", all[0].bench).Scan(&parent, &n)
		if errors.Is(err, sql.ErrNoRows) {
			break
		}
		if err != nil {
			return nil, err
		}
		all = append([]part{{parent, min(uint64(n), all[0].to)}}, all...)
	}
	return all, nil
}
