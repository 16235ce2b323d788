package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"thoud/capture/bench"
)

// Loaded is what a running bench needs of its ledger.
type Loaded struct {
	State      bench.State // the bench part, and the builds touched last: see bench.InWork
	Chain      bench.Chain
	Results    bench.Results // in force, of those builds
	Checkpoint Checkpoint
	Recorded   uint64 // the last entry that was ever recorded, by the checkpoint: beyond the chain's end the ledger has lost some
	Aside      int    // messages that were set aside before
	// Odd names entries that mean nothing where they stand; they are in the ledger all the same. Only those that were
	// folded now.
	Odd []string
	// Whole says why every entry was folded, rather than those since the last snapshot; "" where there was one.
	Whole string
}

// Load gives the state of a bench: from its last snapshot and the entries since, or, where there is none that fits, from
// every entry there is.
func (s *Store) Load(ctx context.Context, benchName string) (Loaded, error) {
	var l Loaded
	err := s.reading(ctx, func(tx *sql.Tx) error {
		snap, why, err := s.snapshotFor(ctx, tx, benchName)
		if err != nil {
			return err
		}
		l.Whole = why
		f := &folder{q: tx, bench: benchName, fold: s.fold.Reading(), state: snap.state(benchName), keep: manyBuilds, odd: func(err error) { l.Odd = append(l.Odd, err.Error()) }}
		if err := l.fold(ctx, tx, f, snap.N, s.Progress); err != nil {
			return err
		}
		if err := f.fill(ctx, snap.Work); err != nil {
			return err
		}
		l.State = f.state
		return l.rest(ctx, tx, benchName)
	})
	return l, s.fault(err)
}

// LoadOn goes on from what was loaded before: it folds the entries since.
func (s *Store) LoadOn(ctx context.Context, benchName string, l Loaded) (Loaded, error) {
	out := Loaded{}
	err := s.reading(ctx, func(tx *sql.Tx) error {
		f := &folder{q: tx, bench: benchName, fold: s.fold, state: l.State, keep: bench.InWork, odd: func(err error) { out.Odd = append(out.Odd, err.Error()) }}
		if err := out.fold(ctx, tx, f, l.Chain.N, nil); err != nil {
			return err
		}
		f.rest(bench.InWork)
		out.State = f.state
		return out.rest(ctx, tx, benchName)
	})
	return out, s.fault(err)
}

// fill loads the builds that were in work and were not touched since, and lets go of those beyond that.
func (f *folder) fill(ctx context.Context, work []string) error {
	if len(f.state.Builds) < bench.InWork {
		for _, job := range slices.Backward(work) {
			if _, in := f.state.Build(job); in {
				continue
			}
			b, err := loadBuild(ctx, f.q, f.fold, f.bench, job, Newest)
			if err != nil {
				return err
			}
			f.state = f.state.Join(b)
		}
	}
	f.rest(bench.InWork)
	return nil
}

// rest reads what belongs to the builds in work, and the checkpoint.
func (l *Loaded) rest(ctx context.Context, tx *sql.Tx, benchName string) error {
	for _, b := range l.State.Builds {
		results, err := newest(ctx, tx, benchName, b.Job, l.Chain.N)
		if err != nil {
			return err
		}
		l.Results = l.Results.With(results...)
	}
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM quarantine WHERE bench = ?", benchName).Scan(&l.Aside); err != nil {
		return err
	}
	var seq, n int64
	err := tx.QueryRowContext(ctx, "SELECT generation, seq, n FROM checkpoint WHERE bench = ?", benchName).Scan(&l.Checkpoint.Generation, &seq, &n)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	l.Checkpoint.Seq, l.Recorded = uint64(seq), uint64(n)
	return nil
}

// decoded is an entry on its way from the file to the fold.
type decoded struct {
	n     uint64
	body  []byte
	entry bench.Entry
	err   error
}

// batch is how many entries go from one goroutine to the next at once.
const batch = 256

// fold reads in one goroutine, decodes in others and folds in order: decoding is the slower half.
func (l *Loaded) fold(ctx context.Context, tx *sql.Tx, f *folder, after uint64, progress Progress) error {
	end, err := lastOf(ctx, tx, f.bench)
	if err != nil {
		return err
	}
	l.Chain = end
	done := 0
	return eachDecodedFrom(ctx, tx, f.bench, after, func(d decoded) error {
		if done++; progress != nil && done%progressEvery == 0 {
			progress("reading the ledger", done, int(end.N-after))
		}
		if d.err != nil {
			l.Odd = append(l.Odd, fmt.Sprintf("entry %d: %v", d.n, d.err))
			return nil
		}
		return f.apply(ctx, d.entry)
	})
}

// decoders is how many goroutines decode side by side.
const decoders = 2

// eachDecodedFrom gives the entries after a number, in order.
func eachDecodedFrom(ctx context.Context, q queryer, benchName string, after uint64, fn func(decoded) error) error {
	return inOrder(ctx, decoders, batch, func(ctx context.Context, send func(decoded) bool) error {
		rows, err := q.QueryContext(ctx, "SELECT n, body FROM entry WHERE bench = ? AND n > ? ORDER BY n", benchName, int64(after))
		if err != nil {
			return err
		}
		defer rows.Close()
		var kept pieces
		for rows.Next() {
			var n int64
			var body sql.RawBytes
			if err := rows.Scan(&n, &body); err != nil {
				return err
			}
			d := decoded{n: uint64(n), body: kept.keep(body)}
			if !send(d) {
				return ctx.Err()
			}
		}
		return rows.Err()
	}, func(d *decoded) {
		d.entry, d.err = bench.Decode(d.body)
		d.body = nil
	}, func(d *decoded) error { return fn(*d) })
}
