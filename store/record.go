package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"thoud/capture/bench"
)

// Checkpoint is how far the stream was recorded: which stream, and the sequence number of its last message done.
type Checkpoint struct {
	Generation string
	Seq        uint64
}

// Position is how far the ledger is: its last entry, and the stream's message that brought it.
type Position struct {
	N uint64
	Checkpoint
}

// Record stores an entry, its projections, the results that came of it and the checkpoint, in one transaction. body is
// the entry as published. Recorded again, the very same entry is left as it is and only the checkpoint moves: a commit
// whose answer was lost may be tried again. Errors wrap bench.ErrFork where the entry does not follow the ledger,
// ErrKnown where its id is there with other bytes, ErrFull. What is recorded outlives the process; it outlives a power
// cut once Synced says so.
func (s *Store) Record(ctx context.Context, benchName string, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, cp Checkpoint) error {
	return s.Batch(ctx, benchName, func(put Put) error { return put(e, body, seal, results, cp) })
}

// Put stores one entry within a batch, as Record does.
type Put func(e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, cp Checkpoint) error

// Batch stores many entries in one transaction: all that fn puts, or, where it fails, nothing.
func (s *Store) Batch(ctx context.Context, benchName string, fn func(Put) error) error {
	var last Position
	err := s.inTx(ctx, func(ctx context.Context, tx writing) error {
		put := func(e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, cp Checkpoint) error {
			if err := s.putOne(ctx, tx, benchName, e, body, seal, results, cp); err != nil {
				return fmt.Errorf("entry %d (%s): %w", e.N, e.Kind, err)
			}
			last = Position{max(last.N, e.N), cp}
			return nil
		}
		if err := fn(put); err != nil {
			return err
		}
		return s.name(ctx, tx, benchName)
	})
	if err != nil {
		return s.fault(err)
	}
	s.mu.Lock()
	s.named = true
	s.mu.Unlock()
	s.committed(last)
	return nil
}

func (s *Store) putOne(ctx context.Context, tx writing, benchName string, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, cp Checkpoint) error {
	there, _, err := tx.known(ctx, e.ID)
	if err != nil {
		return err
	}
	if known, err := follows(ctx, tx, benchName, there, e, body, seal); known || err != nil {
		return errors.Join(err, advance(ctx, tx, benchName, e.N, cp))
	}
	p := e.Place
	done, err := tx.exec(ctx, putEntry, benchName, int64(e.N), e.ID, string(e.Kind), e.At, p.Build, p.Step, p.Pass, p.Point, body, seal[:])
	if err != nil {
		return err
	}
	row, err := done.LastInsertId()
	if err != nil {
		return err
	}
	if err := project(ctx, tx, benchName, row, e); err != nil {
		return err
	}
	if err := putResults(ctx, tx, benchName, results); err != nil {
		return err
	}
	return advance(ctx, tx, benchName, e.N, cp)
}

// follows holds the chain of seals: what does not follow never gets in. there is the seal of what is kept under the entry's id;
// it reports whether that is the very same entry.
func follows(ctx context.Context, tx writing, benchName string, there []byte, e bench.Entry, body []byte, seal bench.Seal) (known bool, err error) {
	switch {
	case there != nil && bench.Seal(there) == seal:
		return true, nil
	case there != nil:
		return false, fmt.Errorf("id %s %w, with other bytes", e.ID, ErrKnown)
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
		return beginOf(ctx, tx, benchName)
	}
	if err != nil {
		return c, err
	}
	c.N = uint64(n)
	copy(c.Seal[:], seal)
	return c, nil
}

// project keeps what of an entry is looked for: its reading, the build it begins or ends, the gauge it speaks of, what it
// says.
func project(ctx context.Context, tx writing, benchName string, row int64, e bench.Entry) error {
	if err := projectReading(ctx, tx, benchName, e); err != nil {
		return err
	}
	return projectLook(ctx, tx, benchName, row, e)
}

func projectLook(ctx context.Context, tx writing, benchName string, row int64, e bench.Entry) error {
	err := projectBuild(ctx, tx, benchName, e)
	if g := bench.GaugeOf(e); err == nil && g != "" {
		_, err = tx.exec(ctx, putGauge, benchName, g, string(e.Kind), int64(e.N))
	}
	if g := bench.EngineOf(e); err == nil && g != "" {
		_, err = tx.exec(ctx, putGauge, benchName, aboutEngine(g), string(e.Kind), int64(e.N))
	}
	if err == nil {
		_, err = tx.exec(ctx, putSaid, row, said(e))
	}
	return err
}

func projectBuild(ctx context.Context, tx writing, benchName string, e bench.Entry) (err error) {
	switch {
	case e.Kind == bench.BuildStarted && e.Build != nil:
		b := e.Build
		_, err = tx.exec(ctx, putBuild, benchName, b.Job, b.Engine, b.Plan, int64(e.N), e.At)
	case e.Kind == bench.BuildClosed:
		_, err = tx.exec(ctx, closeBuild, int64(e.N), benchName, e.Place.Build)
	}
	return err
}

func projectReading(ctx context.Context, tx writing, benchName string, e bench.Entry) error {
	switch {
	case e.Kind == bench.Withdrawn:
		_, err := tx.exec(ctx, withdraw, benchName, e.Refers, int64(e.N))
		return err
	case e.Reading == nil:
		return nil
	}
	p := e.Place
	_, err := tx.exec(ctx, putReading, benchName, int64(e.N), p.Build, p.Step, p.Pass, p.Point, max(p.Seating, 1), e.Reading.Gauge, e.Reading.Value.Float())
	return err
}

// putResults stores what came of an entry.
func putResults(ctx context.Context, tx writing, benchName string, results []bench.Result) error {
	if len(results) == 0 {
		return nil
	}
	running, err := tx.runningNow(ctx, benchName)
	for i := 0; i < len(results) && err == nil; i++ {
		err = putResult(ctx, tx, benchName, results[i], &running)
	}
	return err
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

// advance moves the checkpoint on; n is the last entry recorded, 0 where none came with it.
func advance(ctx context.Context, tx writing, benchName string, n uint64, cp Checkpoint) error {
	_, err := tx.exec(ctx, putPoint, benchName, cp.Generation, int64(cp.Seq), int64(n))
	return err
}

// Advance moves the checkpoint past a message that was recorded before.
func (s *Store) Advance(ctx context.Context, benchName string, cp Checkpoint) error {
	err := s.inTx(ctx, func(ctx context.Context, tx writing) error { return advance(ctx, tx, benchName, 0, cp) })
	if err == nil {
		s.committed(Position{Checkpoint: cp})
	}
	return s.fault(err)
}

// Quarantine keeps a message that is no entry of this ledger, with why, and moves the checkpoint past it. The same
// bytes are kept once: a stream read again from its start brings them again.
func (s *Store) Quarantine(ctx context.Context, benchName string, body []byte, why string, cp Checkpoint) error {
	err := s.inTx(ctx, func(ctx context.Context, tx writing) error {
		var known int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM quarantine WHERE bench = ? AND body = ?",
			benchName, notNil(body)).Scan(&known); err != nil {
			return err
		}
		if known == 0 {
			if _, err := tx.ExecContext(ctx, "INSERT INTO quarantine (bench, body, why, at) VALUES (?, ?, ?, ?)",
				benchName, notNil(body), why, s.Now().UnixMicro()); err != nil {
				return err
			}
		}
		return advance(ctx, tx, benchName, 0, cp)
	})
	if err == nil {
		s.committed(Position{Checkpoint: cp})
	}
	return s.fault(err)
}

// notNil keeps an empty message apart from none.
func notNil(b []byte) []byte { return append([]byte{}, b...) }

// Has reports whether an entry of this id is in the ledger.
func (s *Store) Has(ctx context.Context, benchName, id string) (bool, error) {
	var n int
	err := s.reader.QueryRowContext(ctx, "SELECT count(*) FROM entry WHERE "+ofLine, benchName, id).Scan(&n)
	if err != nil {
		return false, s.fault(err)
	}
	return n > 0, nil
}
