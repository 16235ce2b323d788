package store

import (
	"context"
	"database/sql"

	"thoud/capture/bench"
)

// Compute gives the results that come of an entry: the state after it, and the results in force before it.
type Compute func(after bench.State, e bench.Entry, results bench.Results) []bench.Result

// Rebuild makes the projections of a bench again from its entries, in one transaction. With a compute the results are
// computed again too; without, they stay as they were stored, with what the builder was told then.
func (s *Store) Rebuild(ctx context.Context, benchName string, compute Compute) error {
	asked := ctx
	return s.fault(s.inTx(ctx, func(ctx context.Context, tx writing) error {
		drop := []string{"DELETE FROM reading WHERE bench = ?"}
		if compute != nil {
			drop = append(drop, "DELETE FROM result_reading WHERE result IN (SELECT id FROM result WHERE bench = ?)",
				"DELETE FROM result WHERE bench = ?")
		}
		for _, q := range drop {
			if _, err := tx.ExecContext(ctx, q, benchName); err != nil {
				return err
			}
		}
		state, results := bench.State{Bench: benchName}, bench.Results{}
		for after := uint64(0); ; {
			if err := asked.Err(); err != nil {
				return err
			}
			entries, last, err := some(ctx, tx, benchName, after)
			if err != nil || last == after {
				return err
			}
			after = last
			for _, e := range entries {
				if err := project(ctx, tx, benchName, e); err != nil {
					return err
				}
				if compute == nil {
					continue
				}
				next, err := bench.Apply(state, e)
				state = next
				if err != nil {
					continue // means nothing where it stands, and so nothing comes of it
				}
				news := compute(state, e, results)
				for _, r := range news {
					if err := putResult(ctx, tx, benchName, r); err != nil {
						return err
					}
				}
				results = results.With(news...)
			}
		}
	}))
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
