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
		f := &folder{q: tx, bench: benchName, fold: s.fold, state: snap.state(benchName), keep: manyBuilds, odd: func(err error) { l.Odd = append(l.Odd, err.Error()) }}
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
	var seq int64
	err := tx.QueryRowContext(ctx, "SELECT generation, seq FROM checkpoint WHERE bench = ?", benchName).Scan(&l.Checkpoint.Generation, &seq)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	l.Checkpoint.Seq = uint64(seq)
	return nil
}

// decoded is an entry on its way from the file to the fold.
type decoded struct {
	n     uint64
	seal  bench.Seal
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
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	// A batch goes to a decoder and, in the same order, to who folds; the decoder closes ready.
	type job struct {
		bodies [][]byte
		out    []decoded
		ready  chan struct{}
	}
	work, order := make(chan *job), make(chan *job, 2*decoders)
	for range decoders {
		go func() {
			for j := range work {
				for i := range j.out {
					j.out[i].entry, j.out[i].err = bench.Decode(j.bodies[i])
				}
				j.bodies = nil
				close(j.ready)
			}
		}()
	}
	read := make(chan error, 1)
	go func() {
		defer close(order)
		defer close(work)
		send := func(j *job) bool {
			for _, to := range []chan *job{order, work} {
				select {
				case to <- j:
				case <-ctx.Done():
					return false
				}
			}
			return true
		}
		read <- readBatches(ctx, q, benchName, after, func(bodies [][]byte, out []decoded) bool {
			return send(&job{bodies, out, make(chan struct{})})
		})
	}()
	for j := range order {
		select {
		case <-j.ready:
		case <-ctx.Done():
			return ctx.Err()
		}
		for i := range j.out {
			if err := fn(j.out[i]); err != nil {
				return err
			}
		}
	}
	return <-read
}

func readBatches(ctx context.Context, q queryer, benchName string, after uint64, send func(bodies [][]byte, out []decoded) bool) error {
	rows, err := q.QueryContext(ctx, "SELECT n, body, seal FROM entry WHERE bench = ? AND n > ? ORDER BY n", benchName, int64(after))
	if err != nil {
		return err
	}
	defer rows.Close()
	var bodies [][]byte
	var out []decoded
	for rows.Next() {
		var n int64
		var body []byte
		var seal sql.RawBytes
		if err := rows.Scan(&n, &body, &seal); err != nil {
			return err
		}
		d := decoded{n: uint64(n)}
		copy(d.seal[:], seal)
		bodies, out = append(bodies, body), append(out, d)
		if len(out) == batch {
			if !send(bodies, out) {
				return ctx.Err()
			}
			bodies, out = nil, nil
		}
	}
	if len(out) > 0 && !send(bodies, out) {
		return ctx.Err()
	}
	return rows.Err()
}
