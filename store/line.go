package store

import (
	"context"
	"database/sql"
	"errors"

	"thoud/capture/bench"
)

// toBenches brings what is said by entries to their rows, where those are not their numbers: so it is only in a ledger that
// was packed anew by another program.
func toBenches(ctx context.Context, tx writing, progress Progress) error {
	var other bool
	if err := tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM entry WHERE rowid <> n)").Scan(&other); err != nil || !other {
		return err
	}
	var total, done int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM entry").Scan(&total); err != nil {
		return err
	}
	return projectLooks(ctx, tx, func() {
		if done++; progress != nil && done%progressEvery == 0 {
			progress("bringing the ledger up to date", done, total)
		}
	})
}

// beginOf is what a bench's first entry follows: nothing, or, for a line that parts from another, the last entry it shares
// with that one.
func beginOf(ctx context.Context, q queryer, benchName string) (bench.Chain, error) {
	var c bench.Chain
	var n int64
	var seal []byte
	err := q.QueryRowContext(ctx, "SELECT n, seal FROM line WHERE bench = ?", benchName).Scan(&n, &seal)
	if errors.Is(err, sql.ErrNoRows) {
		return c, nil
	}
	c.N = uint64(n)
	copy(c.Seal[:], seal)
	return c, err
}
