package store

import (
	"context"
	"database/sql"

	"thoud/calc"
	"thoud/capture/bench"
)

// Compute gives the results that come of an entry: the state after it, and the results in force before it.
type Compute func(after bench.State, e bench.Entry, results bench.Results) []bench.Result

// Rebuild makes the projections of a bench again from its entries, in one transaction. Results stay as they were stored,
// with what the builder was told then. With a compute they are computed again too: one that comes out otherwise than
// what is stored is stored beside it and takes its place; the older one stays. It gives how many did.
func (s *Store) Rebuild(ctx context.Context, benchName string, compute Compute) (changed int, err error) {
	asked := ctx
	err = s.inTx(ctx, func(ctx context.Context, tx writing) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM reading WHERE bench = ?", benchName); err != nil {
			return err
		}
		if err := projectLooks(ctx, tx, func() {}); err != nil {
			return err
		}
		again := &recomputing{tx: tx, bench: benchName, compute: compute}
		again.folder = &folder{q: tx, bench: benchName, fold: s.fold.Reading(), state: bench.State{Bench: benchName}, keep: manyBuilds, loaded: again.load, gone: again.letGo,
			odd: func(error) { again.odd = true }}
		for after := uint64(0); ; {
			if err := asked.Err(); err != nil {
				return err
			}
			entries, last, err := some(ctx, tx, benchName, after)
			if err != nil || last == after {
				changed = again.changed
				return err
			}
			after = last
			for _, e := range entries {
				if err := projectReading(ctx, tx, benchName, e); err != nil {
					return err
				}
				if compute == nil {
					continue
				}
				if err := again.entry(ctx, e); err != nil {
					return err
				}
			}
		}
	})
	return changed, s.fault(err)
}

// recomputing computes a ledger's results again, entry by entry.
type recomputing struct {
	tx      writing
	bench   string
	compute Compute
	folder  *folder
	results bench.Results
	odd     bool // the entry means nothing where it stands
	changed int
}

// load gives the results of a build that comes into memory again.
func (r *recomputing) load(job string, upTo uint64) error {
	all, err := newest(context.Background(), r.tx, r.bench, job, upTo)
	r.results = r.results.With(all...)
	return err
}

func (r *recomputing) letGo(job string) { r.results = r.results.Without(job) }

func (r *recomputing) entry(ctx context.Context, e bench.Entry) error {
	r.odd = false
	if err := r.folder.apply(ctx, e); err != nil || r.odd {
		return err // what means nothing where it stands brings nothing
	}
	news := r.compute(r.folder.state, e, r.results)
	r.results = r.results.With(news...)
	var other []bench.Result
	for _, n := range news {
		stored, ok, err := storedAt(ctx, r.tx, r.bench, n.Slot(), e.N)
		if err != nil {
			return err
		}
		if !ok || differs(stored, n.Result) != "" {
			other = append(other, n)
		}
	}
	r.changed += len(other)
	return putResults(ctx, r.tx, r.bench, other)
}

// storedAt gives what was stored last for a slot and an entry.
func storedAt(ctx context.Context, q queryer, benchName string, slot bench.Slot, n uint64) (res calc.Result, ok bool, err error) {
	err = eachRun(ctx, q, "bench = ? AND build = ? AND step = ? AND pass = ? AND key = ? AND n = ?", " ORDER BY 1",
		[]any{benchName, slot.Build, slot.Step, slot.Pass, slot.Key, int64(n)}, func(r storedRun) error {
			full, err := r.light()
			res, ok = full.Result, true
			return err
		})
	return res, ok, err
}

// some reads the next few entries after a number, and says which was the last: rows cannot stay open while their
// transaction writes.
func some(ctx context.Context, tx writing, benchName string, after uint64) ([]bench.Entry, uint64, error) {
	rows, err := tx.QueryContext(ctx, "SELECT n, body FROM entry WHERE bench = ? AND n > ? ORDER BY n LIMIT ?", benchName, int64(after), batch)
	if err != nil {
		return nil, after, err
	}
	defer rows.Close()
	var out []bench.Entry
	for rows.Next() {
		var n int64
		var body sql.RawBytes
		if err := rows.Scan(&n, &body); err != nil {
			return nil, after, err
		}
		after = uint64(n)
		if e, err := bench.Decode(body); err == nil { // what cannot be read projects to nothing
			out = append(out, e)
		}
	}
	return out, after, rows.Err()
}
