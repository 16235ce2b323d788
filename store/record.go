package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"thoud/capture/bench"
)

// Checkpoint is how far the stream was recorded: which stream, and the sequence number of its last message done.
type Checkpoint struct {
	Generation string
	Seq        uint64
}

// Record stores an entry, its projections, the results that came of it and the checkpoint, in one transaction. body is
// the entry as published. Recorded again, the very same entry is left as it is and only the checkpoint moves: a commit
// whose answer was lost may be tried again. Errors wrap bench.ErrFork where the entry does not follow the ledger,
// ErrKnown where its id is there with other bytes, ErrFull.
func (s *Store) Record(ctx context.Context, benchName string, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, cp Checkpoint) error {
	err := s.inTx(ctx, func(ctx context.Context, tx writing) error {
		if known, err := follows(ctx, tx, benchName, e, body, seal); known || err != nil {
			return errors.Join(err, advance(ctx, tx, benchName, cp))
		}
		p := e.Place
		_, err := tx.exec(ctx, putEntry, benchName, int64(e.N), e.ID, string(e.Kind), e.At, p.Build, p.Step, p.Pass, p.Point, body, seal[:])
		if err != nil {
			return err
		}
		if err := project(ctx, tx, benchName, e); err != nil {
			return err
		}
		for _, r := range results {
			if err := putResult(ctx, tx, benchName, r); err != nil {
				return err
			}
		}
		if err := s.name(ctx, tx, benchName); err != nil {
			return err
		}
		return advance(ctx, tx, benchName, cp)
	})
	if err != nil {
		return s.fault(fmt.Errorf("entry %d (%s): %w", e.N, e.Kind, err))
	}
	s.mu.Lock()
	s.named = true
	s.mu.Unlock()
	return nil
}

// follows holds the chain of seals: what does not follow never gets in. It reports whether the very same entry is there.
func follows(ctx context.Context, tx writing, benchName string, e bench.Entry, body []byte, seal bench.Seal) (known bool, err error) {
	var there []byte
	switch err := tx.row(ctx, askKnown, e.ID).Scan(&there); {
	case err == nil && bench.Seal(there) == seal:
		return true, nil
	case err == nil:
		return false, fmt.Errorf("id %s %w, with other bytes", e.ID, ErrKnown)
	case !errors.Is(err, sql.ErrNoRows):
		return false, err
	}
	chain, err := endOf(ctx, tx, benchName)
	if err != nil {
		return false, err
	}
	next, err := chain.Next(e, body)
	if err != nil {
		return false, err
	}
	if next.Seal != seal {
		return false, fmt.Errorf("seal %.12s… given, its bytes give %.12s…: %w", seal, next.Seal, bench.ErrFork)
	}
	return false, nil
}

// endOf is where a bench's ledger ends.
func endOf(ctx context.Context, tx writing, benchName string) (bench.Chain, error) {
	var c bench.Chain
	var n int64
	var seal []byte
	err := tx.row(ctx, askEnd, benchName).Scan(&n, &seal)
	if errors.Is(err, sql.ErrNoRows) {
		return c, nil
	}
	if err != nil {
		return c, err
	}
	c.N = uint64(n)
	copy(c.Seal[:], seal)
	return c, nil
}

// project keeps the readings of an entry.
func project(ctx context.Context, tx writing, benchName string, e bench.Entry) error {
	switch {
	case e.Kind == bench.Withdrawn:
		_, err := tx.exec(ctx, withdraw, int64(e.N), benchName, e.Refers)
		return err
	case e.Reading == nil:
		return nil
	}
	p := e.Place
	_, err := tx.exec(ctx, putReading, benchName, int64(e.N), e.ID, p.Build, p.Step, p.Pass, p.Point, max(p.Seating, 1), e.Reading.Gauge, e.Reading.Value.Float())
	return err
}

func putResult(ctx context.Context, tx writing, benchName string, r bench.Result) error {
	body, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("result of %s: %w", r.Slot(), err)
	}
	done, err := tx.exec(ctx, putRun, benchName, r.Build, r.Step, r.Pass, r.Key, int64(r.N), r.Method, r.Version, string(r.Verdict), r.Provisional, body)
	if err != nil {
		return fmt.Errorf("result of %s: %w", r.Slot(), err)
	}
	id, err := done.LastInsertId()
	if err != nil {
		return err
	}
	for _, reading := range r.Readings {
		if _, err := tx.exec(ctx, putUsed, reading, id); err != nil {
			return err
		}
	}
	return nil
}

// name keeps whose ledger this is, once.
func (s *Store) name(ctx context.Context, tx writing, benchName string) error {
	s.mu.Lock()
	named := s.named
	s.mu.Unlock()
	if named {
		return nil
	}
	_, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO meta (name, value) VALUES ('bench', ?)", benchName)
	return err
}

func advance(ctx context.Context, tx writing, benchName string, cp Checkpoint) error {
	_, err := tx.exec(ctx, putPoint, benchName, cp.Generation, int64(cp.Seq))
	return err
}

// Advance moves the checkpoint past a message that was recorded before.
func (s *Store) Advance(ctx context.Context, benchName string, cp Checkpoint) error {
	return s.fault(s.inTx(ctx, func(ctx context.Context, tx writing) error { return advance(ctx, tx, benchName, cp) }))
}

// Quarantine keeps a message that is no entry of this ledger, with why, and moves the checkpoint past it. The same
// bytes for the same reason are kept once: a stream read again from its start brings them again.
func (s *Store) Quarantine(ctx context.Context, benchName string, body []byte, why string, cp Checkpoint) error {
	return s.fault(s.inTx(ctx, func(ctx context.Context, tx writing) error {
		var known int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM quarantine WHERE bench = ? AND body = ? AND why = ?",
			benchName, notNil(body), why).Scan(&known); err != nil {
			return err
		}
		if known == 0 {
			if _, err := tx.ExecContext(ctx, "INSERT INTO quarantine (bench, body, why, at) VALUES (?, ?, ?, ?)",
				benchName, notNil(body), why, s.Now().UnixMicro()); err != nil {
				return err
			}
		}
		return advance(ctx, tx, benchName, cp)
	}))
}

// notNil keeps an empty message apart from none.
func notNil(b []byte) []byte { return append([]byte{}, b...) }

// Has reports whether an entry of this id is in the ledger.
func (s *Store) Has(ctx context.Context, benchName, id string) (bool, error) {
	var n int
	err := s.reader.QueryRowContext(ctx, "SELECT count(*) FROM entry WHERE id = ? AND bench = ?", id, benchName).Scan(&n)
	if err != nil {
		return false, s.fault(err)
	}
	return n > 0, nil
}
