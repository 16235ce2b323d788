package store

import (
	"context"
	"database/sql"
	"errors"

	"thoud/capture/bench"
)

// Span is a run of a bench's entries as they lie in the ledger, with the seals at both ends, and where the ledger ended when
// it was read. It is what a hub is given.
type Span struct {
	Known   bool       // the ledger has the entry before the first that was asked for
	Before  bench.Seal // of that entry
	Bodies  [][]byte
	After   bench.Seal // of the last entry given; Before where none is
	End     bench.Chain
	Results int      // how many results there are
	Running [32]byte // the sum over them
	LastRow int64    // the ledger's own number of the last of them
}

// Span gives the entries from a number on: at most so many, and about so many bytes, but always one where there is one.
func (s *Store) Span(ctx context.Context, benchName string, from uint64, most, bytes int) (Span, error) {
	var sp Span
	err := s.reading(ctx, func(tx *sql.Tx) (err error) {
		if sp.End, err = lastOf(ctx, tx, benchName); err != nil {
			return err
		}
		if sp.Results, sp.LastRow, err = s.toldBy(ctx, tx, benchName); err != nil {
			return err
		}
		if sp.Running, err = runningOf(ctx, tx, benchName); err != nil {
			return err
		}
		if sp.Before, sp.Known, err = sealAt(ctx, tx, benchName, from-1); err != nil || !sp.Known {
			return err
		}
		sp.After = sp.Before
		rows, err := tx.QueryContext(ctx, "SELECT body, seal FROM entry WHERE bench = ? AND n >= ? ORDER BY n LIMIT ?", benchName, int64(from), most)
		if err != nil {
			return err
		}
		defer rows.Close()
		for size := 0; rows.Next(); {
			var body []byte
			var seal sql.RawBytes
			if err := rows.Scan(&body, &seal); err != nil {
				return err
			}
			if size += len(body); size > bytes && len(sp.Bodies) > 0 {
				break
			}
			sp.Bodies = append(sp.Bodies, body)
			copy(sp.After[:], seal)
		}
		return rows.Err()
	})
	return sp, s.fault(err)
}

// counted is how many results there are up to a row: what was counted is not counted again, since no result ever goes.
type counted struct {
	row   int64
	count int
}

// toldBy is how many results of a bench are stored, and the row of the last.
func (s *Store) toldBy(ctx context.Context, q queryer, benchName string) (count int, last int64, err error) {
	s.mu.Lock()
	c := s.told[benchName]
	s.mu.Unlock()
	for _, table := range []string{"result", "run"} {
		var more int
		var to int64
		err := q.QueryRowContext(ctx, "SELECT count(*), coalesce(max(id), 0) FROM "+table+" WHERE bench = ? AND id > ?", benchName, c.row).Scan(&more, &to)
		if err != nil {
			return 0, 0, err
		}
		c.count += more
		last = max(last, to)
	}
	c.row = max(c.row, last)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.told == nil {
		s.told = map[string]counted{}
	}
	if s.told[benchName].row <= c.row {
		s.told[benchName] = c
	}
	return c.count, c.row, nil
}

// SealAt is the seal of a bench's entry; false where the ledger does not reach so far.
func (s *Store) SealAt(ctx context.Context, benchName string, n uint64) (bench.Seal, bool, error) {
	seal, ok, err := sealAt(ctx, s.reader, benchName, n)
	return seal, ok, s.fault(err)
}

// sealAt is the seal of an entry, of a line's own or of one that it shares with the line it parts from; that of entry 0 is
// the start of every chain.
func sealAt(ctx context.Context, q queryer, benchName string, n uint64) (bench.Seal, bool, error) {
	var seal bench.Seal
	if n == 0 {
		return seal, true, nil
	}
	all, err := spansOf(ctx, q, benchName)
	if err != nil {
		return seal, false, err
	}
	for _, sp := range all {
		if n > sp.to {
			continue
		}
		var b []byte
		err := q.QueryRowContext(ctx, "SELECT seal FROM entry WHERE bench = ? AND n = ?", sp.bench, int64(n)).Scan(&b)
		if errors.Is(err, sql.ErrNoRows) {
			return seal, false, nil
		}
		copy(seal[:], b)
		return seal, err == nil, err
	}
	return seal, false, nil
}

// RunRow is a result as it lies in the ledger.
type RunRow struct {
	Row     int64  // the ledger's own number of it: they rise
	Old     bool   // of the first form, whose body holds its request
	Asked   hash   // of the request
	Request []byte // packed as it is kept
	Body    []byte // packed as it is kept; of the first form as it is
}

// RunSpan is a run of a bench's results in the order they were stored, with the sums at both ends.
type RunSpan struct {
	Before hash
	Rows   []RunRow
	After  hash
}

// RunSpan gives the results after a row: at most so many, and about so many bytes, but always one where there is one.
func (s *Store) RunSpan(ctx context.Context, benchName string, after int64, most, bytes int) (RunSpan, error) {
	var sp RunSpan
	err := s.reading(ctx, func(tx *sql.Tx) (err error) {
		if sp.Before, err = runningAt(ctx, tx, benchName, after); err != nil {
			return err
		}
		sp.After = sp.Before
		size := 0
		err = readRows(ctx, tx, func(r RunRow, running []byte) error {
			if size += len(r.Body) + len(r.Request); len(sp.Rows) == most || size > bytes && len(sp.Rows) > 0 {
				return errEnough
			}
			sp.Rows = append(sp.Rows, r)
			if r.Old {
				sp.After = runningAfter(sp.After, hash{}, r.Body)
			} else {
				copy(sp.After[:], running)
			}
			return nil
		}, benchName, after)
		if errors.Is(err, errEnough) {
			err = nil
		}
		return err
	})
	return sp, s.fault(err)
}

// readRows gives the rows after one, those of the first form first: their numbers are smaller.
func readRows(ctx context.Context, q queryer, fn func(r RunRow, running []byte) error, benchName string, after int64) error {
	for _, query := range []string{
		"SELECT id, 1, NULL, NULL, body, NULL FROM result WHERE bench = ? AND id > ? ORDER BY id",
		"SELECT run.id, 0, request.hash, request.body, run.body, run.running" + fromRun + "WHERE run.bench = ? AND run.id > ? ORDER BY run.id",
	} {
		rows, err := q.QueryContext(ctx, query, benchName, after)
		if err != nil {
			return err
		}
		for err == nil && rows.Next() {
			var r RunRow
			var asked, running sql.RawBytes
			if err = rows.Scan(&r.Row, &r.Old, &asked, &r.Request, &r.Body, &running); err == nil {
				copy(r.Asked[:], asked)
				err = fn(r, running)
			}
		}
		if err = errors.Join(err, rows.Err(), rows.Close()); err != nil {
			return err
		}
	}
	return nil
}

// runningAt is the sum over the results up to a row.
func runningAt(ctx context.Context, q queryer, benchName string, row int64) (hash, error) {
	var sum hash
	if row == 0 {
		return sum, nil
	}
	var b []byte
	err := q.QueryRowContext(ctx, "SELECT running FROM run WHERE bench = ? AND id <= ? ORDER BY id DESC LIMIT 1", benchName, row).Scan(&b)
	if err == nil || !errors.Is(err, sql.ErrNoRows) {
		copy(sum[:], b)
		return sum, err
	}
	// Among the results of the first form, which do not keep their sums.
	rows, err := q.QueryContext(ctx, "SELECT body FROM result WHERE bench = ? AND id <= ? ORDER BY id", benchName, row)
	if err != nil {
		return sum, err
	}
	defer rows.Close()
	for rows.Next() {
		var body sql.RawBytes
		if err := rows.Scan(&body); err != nil {
			return sum, err
		}
		sum = runningAfter(sum, hash{}, body)
	}
	return sum, rows.Err()
}

// RunAt gives the row and the sum at the k-th result of a bench; false where there are fewer.
func (s *Store) RunAt(ctx context.Context, benchName string, k int) (row int64, sum [32]byte, ok bool, err error) {
	if k == 0 {
		return 0, hash{}, true, nil
	}
	err = s.reader.QueryRowContext(ctx, `SELECT id FROM (SELECT id FROM result WHERE bench = ?1 UNION ALL SELECT id FROM run WHERE bench = ?1)
		ORDER BY id LIMIT 1 OFFSET ?2`, benchName, k-1).Scan(&row)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, hash{}, false, nil
	}
	if err == nil {
		sum, err = runningAt(ctx, s.reader, benchName, row)
	}
	return row, sum, err == nil, s.fault(err)
}
