package store

import (
	"context"
	"database/sql"

	"thoud/capture/bench"
)

// link is the end of the chain as far as it was walked: the seal as stored, and as the bytes give it.
type link struct {
	n             uint64
	stored, found bench.Seal
}

// link holds one entry against the one before it. An entry that was changed is found once, at its own row, and so is
// one taken out, at the row after the gap: what follows is held against what each entry itself says came before it.
func (v *verifier) link(row string, before link, w walked) link {
	e := w.entry
	prev, err := bench.ParseSeal(e.Prev)
	switch {
	case err != nil:
		v.wrong(w.n, row, "the seal it follows: %v", err)
	case w.n != before.n+1:
		v.wrong(w.n, row, "does not follow entry %d: what was between them is gone", before.n)
	case prev != before.stored && prev != before.found:
		v.wrong(w.n, row, "is sealed onto %.12s…, entry %d before it ends with %.12s…: one of the two is not what was recorded", e.Prev, before.n, before.stored)
	}
	next := link{w.n, w.seal, w.found}
	if next.stored != next.found {
		v.wrong(w.n, row, "its seal is %.12s…, its bytes give %.12s…: it was changed after it was stored", next.stored, next.found)
	}
	return next
}

// walked is one entry's row with its reading's.
type walked struct {
	n       uint64
	id      string
	kind    string
	at      int64
	place   bench.Place
	body    []byte
	seal    bench.Seal
	entry   bench.Entry
	bad     error      // why it cannot be decoded
	found   bench.Seal // that its bytes give, on the seal it says it follows
	reading struct {
		id, gauge, build, step, point sql.NullString
		pass, seating, withdrawn      sql.NullInt64
		base                          sql.NullFloat64
	}
}

func (w *walked) scan(rows *sql.Rows, kept *pieces) error {
	var n int64
	var body, seal sql.RawBytes
	r := &w.reading
	err := rows.Scan(&n, &w.id, &w.kind, &w.at, &w.place.Build, &w.place.Step, &w.place.Pass, &w.place.Point, &body, &seal,
		&r.id, &r.gauge, &r.build, &r.step, &r.pass, &r.point, &r.seating, &r.base, &r.withdrawn)
	w.n, w.body = uint64(n), kept.keep(body)
	copy(w.seal[:], seal)
	return err
}

// columns holds the columns against the body they were taken from.
func (v *verifier) columns(row string, w walked) {
	e := w.entry
	p := e.Place
	p.Seating = 0
	if w.n != e.N || w.id != e.ID || w.kind != string(e.Kind) || w.at != e.At || w.place != p {
		v.wrong(w.n, row, "its columns say entry %d, %s, %s, its bytes say entry %d, %s, %s", w.n, w.kind, w.place, e.N, e.Kind, p)
	}
	got := w.reading
	switch want := e.Reading; {
	case want == nil && got.id.Valid:
		v.wrong(w.n, row, "a reading's row stands beside it, but it is none; thoud rebuild makes the rows anew")
	case want != nil && !got.id.Valid:
		v.wrong(w.n, row, "its reading's row is missing; thoud rebuild makes the rows anew")
	case want != nil:
		at := bench.Place{Build: got.build.String, Step: got.step.String, Pass: int(got.pass.Int64), Point: got.point.String}
		if got.id.String != e.ID || got.gauge.String != want.Gauge || at != p || got.seating.Int64 != int64(max(e.Place.Seating, 1)) || got.base.Float64 != want.Value.Float() {
			v.wrong(w.n, row, "its reading's row says %s, %s, %g, its bytes say %s, %s, %g; thoud rebuild makes the rows anew",
				got.gauge.String, at, got.base.Float64, want.Gauge, p, want.Value.Float())
		}
	}
}

// eachWalked reads the entries in order with what is projected of them; they are decoded and sealed beside the caller.
func eachWalked(ctx context.Context, q queryer, benchName string, fn func(walked) error) error {
	return inOrder(ctx, decoders, batch, func(ctx context.Context, send func(walked) bool) error {
		rows, err := q.QueryContext(ctx, `SELECT entry.n, entry.id, entry.kind, entry.at, entry.build, entry.step, entry.pass, entry.point, entry.body, entry.seal,
			reading.id, reading.gauge, reading.build, reading.step, reading.pass, reading.point, reading.seating, reading.base, reading.withdrawn
			FROM entry LEFT JOIN reading USING (bench, n) WHERE bench = ? ORDER BY entry.n`, benchName)
		if err != nil {
			return err
		}
		defer rows.Close()
		var kept pieces
		for rows.Next() {
			var w walked
			if err := w.scan(rows, &kept); err != nil {
				return err
			}
			if !send(w) {
				return ctx.Err()
			}
		}
		return rows.Err()
	}, func(w *walked) {
		w.entry, w.bad = bench.Decode(w.body)
		if prev, err := bench.ParseSeal(w.entry.Prev); err == nil {
			w.found = prev.After(w.body)
		}
		w.id = asSaid(benchName, w.id, w.entry.ID)
		w.reading.id.String = asSaid(benchName, w.reading.id.String, w.entry.ID)
	}, func(w *walked) error { return fn(*w) })
}
