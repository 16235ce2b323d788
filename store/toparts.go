package store

import (
	"context"
	"database/sql"

	"thoud/capture/bench"
)

// toParts fills what form 2 brought from what is there: which entries speak of which gauge, what they say, and the sum
// over the results of the first form.
func toParts(ctx context.Context, tx writing, progress Progress) error {
	var total int
	if err := tx.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM entry) + (SELECT count(*) FROM result)").Scan(&total); err != nil {
		return err
	}
	done := 0
	step := func() {
		if done++; progress != nil && done%progressEvery == 0 {
			progress("bringing the ledger up to date", done, total)
		}
	}
	if err := oldRunning(ctx, tx, step); err != nil {
		return err
	}
	return projectLooks(ctx, tx, step)
}

// progressEvery is how many rows pass between two words of progress.
const progressEvery = 256

// projectLooks makes anew what is looked for beside readings: builds, the gauges that entries speak of, what they say.
func projectLooks(ctx context.Context, tx writing, step func()) error {
	for _, q := range []string{"DELETE FROM build", "DELETE FROM gauge_entry", "INSERT INTO said (said) VALUES ('delete-all')"} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	compiled, err := compile(ctx, tx.Tx, putGauge, putSaid, putBuild, closeBuild)
	if err != nil {
		return err
	}
	tx.prepared = compiled
	return eachDecoded(ctx, tx, func(benchName string, row int64, e bench.Entry) error {
		step()
		return projectLook(ctx, tx, benchName, row, e)
	})
}

// eachDecoded goes through entries a few at a time: rows cannot stay open while their transaction writes.
func eachDecoded(ctx context.Context, tx writing, fn func(benchName string, row int64, e bench.Entry) error) error {
	type row struct {
		bench string
		row   int64
		entry bench.Entry
	}
	for after, more := int64(0), true; more; {
		var some []row
		rows, err := tx.QueryContext(ctx, "SELECT rowid, bench, n, body FROM entry WHERE rowid > ? ORDER BY rowid LIMIT ?", after, batch)
		if err != nil {
			return err
		}
		more = false
		for rows.Next() {
			var name string
			var n int64
			var body sql.RawBytes
			if err := rows.Scan(&after, &name, &n, &body); err != nil {
				rows.Close()
				return err
			}
			more = true
			if e, err := bench.Decode(body); err == nil { // what cannot be read is looked for in vain, and verify tells of it
				some = append(some, row{name, after, e})
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
		for _, r := range some {
			if err := fn(r.bench, r.row, r.entry); err != nil {
				return err
			}
		}
	}
	return nil
}
