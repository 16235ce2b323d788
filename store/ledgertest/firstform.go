package ledgertest

import (
	"context"
	"database/sql"

	_ "embed"
)

// firstForm is the schema of form 1, kept here as it was.
//
//go:embed first_form.sql
var firstForm string

// perTransaction is how many entries are written at once.
const perTransaction = 5000

// firstWriter writes rows as the first programs did.
type firstWriter struct {
	ctx  context.Context
	db   *sql.DB
	tx   *sql.Tx
	left int

	entry, reading, withdraw, result, used *sql.Stmt
}

func (w *firstWriter) begin() (err error) {
	if w.tx != nil {
		if err := w.tx.Commit(); err != nil {
			return err
		}
	}
	if w.tx, err = w.db.BeginTx(w.ctx, nil); err != nil {
		return err
	}
	w.left = perTransaction
	for _, q := range []struct {
		into **sql.Stmt
		text string
	}{
		{&w.entry, "INSERT INTO entry (bench, n, id, kind, at, build, step, pass, point, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"},
		{&w.reading, "INSERT INTO reading (bench, n, id, build, step, pass, point, seating, gauge, base) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"},
		{&w.withdraw, "UPDATE reading SET withdrawn = ? WHERE bench = ? AND id = ?"},
		{&w.result, "INSERT INTO result (bench, build, step, pass, key, n, method, version, verdict, provisional, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"},
		{&w.used, "INSERT OR IGNORE INTO result_reading (reading, result) VALUES (?, ?)"},
	} {
		if *q.into, err = w.tx.Prepare(q.text); err != nil {
			return err
		}
	}
	return nil
}

func (w *firstWriter) put(e Entry) error {
	if w.left == 0 {
		if err := w.begin(); err != nil {
			return err
		}
	}
	w.left--
	p := e.Place
	if _, err := w.entry.Exec(Bench, int64(e.N), e.ID, e.Kind, e.At, p.Build, p.Step, p.Pass, p.Point, e.Body, e.Seal[:]); err != nil {
		return err
	}
	if r := e.Reading; r != nil {
		if _, err := w.reading.Exec(Bench, int64(e.N), e.ID, p.Build, p.Step, p.Pass, p.Point, max(p.Seating, 1), r.Gauge, r.Base); err != nil {
			return err
		}
	}
	if e.Withdraws != "" {
		if _, err := w.withdraw.Exec(int64(e.N), Bench, e.Withdraws); err != nil {
			return err
		}
	}
	for _, r := range e.Results {
		done, err := w.result.Exec(Bench, r.Slot.Build, r.Slot.Step, r.Slot.Pass, r.Slot.Key, int64(e.N), r.Method, r.Version, r.Verdict, r.Provisional, r.Body)
		if err != nil {
			return err
		}
		id, err := done.LastInsertId()
		if err != nil {
			return err
		}
		for _, reading := range r.Readings {
			if _, err := w.used.Exec(reading, id); err != nil {
				return err
			}
		}
	}
	return nil
}
