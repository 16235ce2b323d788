package store

import (
	"context"
	"database/sql"
	"fmt"

	"thoud/calc"
	"thoud/capture/bench"
)

// Report is what a verification found.
type Report struct {
	Entries  int        `json:"entries"`
	Readings int        `json:"readings"`
	Results  int        `json:"results"`
	End      bench.Seal `json:"-"` // of the last entry
	Seal     string     `json:"seal"`
	Wrong    []Finding  `json:"wrong,omitempty"`
	// Unknown are results of a method's version that this build does not have: not recomputable by this build, and no fault.
	Unknown []Finding `json:"not_recomputable,omitempty"`
}

// Finding is one row and what is the matter with it.
type Finding struct {
	Row  string `json:"row"`
	What string `json:"what"`
}

func (r *Report) wrong(row, format string, args ...any) {
	r.Wrong = append(r.Wrong, Finding{row, fmt.Sprintf(format, args...)})
}

// Verify walks the seals, holds every projected reading against its entry, and computes every stored result again from
// its stored request. Figures must agree within 1e-9 of the value, or 1e-9 of its uncertainty. progress, where not nil,
// hears now and then how many rows of how many are done.
func (s *Store) Verify(ctx context.Context, benchName string, progress func(done, total int)) (Report, error) {
	var r Report
	tx, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return r, s.fault(err)
	}
	defer func() { _ = tx.Rollback() }() // only read
	var total int
	if err := tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM entry WHERE bench = ?1) + (SELECT count(*) FROM result WHERE bench = ?1) + (SELECT count(*) FROM run WHERE bench = ?1)`,
		benchName).Scan(&total); err != nil {
		return r, s.fault(err)
	}
	done := 0
	step := func() {
		if done++; progress != nil && (done%64 == 0 || done == total) {
			progress(done, total)
		}
	}
	if err := r.walk(ctx, tx, benchName, step); err != nil {
		return r, s.fault(err)
	}
	if err := r.recompute(ctx, tx, benchName, step); err != nil {
		return r, s.fault(err)
	}
	r.Seal = r.End.String()
	return r, nil
}

// walk checks the chain of seals and that the columns beside each body say what the body says.
func (r *Report) walk(ctx context.Context, tx *sql.Tx, benchName string, step func()) error {
	rows, err := tx.QueryContext(ctx, `SELECT entry.n, entry.id, entry.kind, entry.at, entry.build, entry.step, entry.pass, entry.point, entry.body, entry.seal,
		reading.id, reading.gauge, reading.build, reading.step, reading.pass, reading.point, reading.seating, reading.base, reading.withdrawn
		FROM entry LEFT JOIN reading USING (bench, n) WHERE bench = ? ORDER BY entry.n`, benchName)
	if err != nil {
		return err
	}
	defer rows.Close()
	var before link
	withdrawn := map[string]uint64{} // reading's id → entry that withdrew it
	shown := map[string]uint64{}     // the same as the projection has it
	for rows.Next() {
		var w walked
		if err := w.scan(rows); err != nil {
			return err
		}
		row := fmt.Sprintf("entry %d", w.n)
		e, err := bench.Decode(w.body)
		if err != nil {
			r.wrong(row, "cannot be read: %v", err)
		}
		before = r.link(row, before, w, e)
		r.columns(row, w, e)
		if e.Kind == bench.Withdrawn {
			withdrawn[e.Refers] = e.N
		}
		if w.reading.id.Valid {
			r.Readings++
			if w.reading.withdrawn.Int64 > 0 {
				shown[w.reading.id.String] = uint64(w.reading.withdrawn.Int64)
			}
		}
		r.Entries++
		step()
	}
	r.End = before.stored
	for id, n := range withdrawn {
		if shown[id] != n {
			r.wrong("reading "+id, "entry %d withdrew it, its row does not say so; rebuild the projections", n)
		}
	}
	for id, n := range shown {
		if withdrawn[id] == 0 {
			r.wrong("reading "+id, "its row says entry %d withdrew it, which it did not; rebuild the projections", n)
		}
	}
	return rows.Err()
}

// link is the end of the chain as far as it was walked: the seal as stored, and as the bytes give it.
type link struct {
	n             uint64
	stored, found bench.Seal
}

// link holds one entry against the one before it. An entry that was changed is found once, at its own row, and so is
// one taken out, at the row after the gap: what follows is held against what each entry itself says came before it.
func (r *Report) link(row string, before link, w walked, e bench.Entry) link {
	prev, err := bench.ParseSeal(e.Prev)
	switch {
	case err != nil:
		r.wrong(row, "the seal it follows: %v", err)
	case w.n != before.n+1:
		r.wrong(row, "does not follow entry %d: what was between them is gone", before.n)
	case prev != before.stored && prev != before.found:
		r.wrong(row, "is sealed onto %.12s…, entry %d before it ends with %.12s…: one of the two is not what was recorded", e.Prev, before.n, before.stored)
	}
	next := link{w.n, w.seal, prev.After(w.body)}
	if next.stored != next.found {
		r.wrong(row, "its seal is %.12s…, its bytes give %.12s…: it was changed after it was stored", next.stored, next.found)
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
	reading struct {
		id, gauge, build, step, point sql.NullString
		pass, seating, withdrawn      sql.NullInt64
		base                          sql.NullFloat64
	}
}

func (w *walked) scan(rows *sql.Rows) error {
	var n int64
	var seal []byte
	r := &w.reading
	err := rows.Scan(&n, &w.id, &w.kind, &w.at, &w.place.Build, &w.place.Step, &w.place.Pass, &w.place.Point, &w.body, &seal,
		&r.id, &r.gauge, &r.build, &r.step, &r.pass, &r.point, &r.seating, &r.base, &r.withdrawn)
	w.n = uint64(n)
	copy(w.seal[:], seal)
	return err
}

// columns holds the columns against the body they were taken from.
func (r *Report) columns(row string, w walked, e bench.Entry) {
	p := e.Place
	p.Seating = 0
	if w.n != e.N || w.id != e.ID || w.kind != string(e.Kind) || w.at != e.At || w.place != p {
		r.wrong(row, "its columns say entry %d, %s, %s, its bytes say entry %d, %s, %s", w.n, w.kind, w.place, e.N, e.Kind, p)
	}
	got := w.reading
	switch want := e.Reading; {
	case want == nil && got.id.Valid:
		r.wrong(row, "a reading's row stands beside it, but it is none; rebuild the projections")
	case want != nil && !got.id.Valid:
		r.wrong(row, "its reading's row is missing; rebuild the projections")
	case want != nil:
		at := bench.Place{Build: got.build.String, Step: got.step.String, Pass: int(got.pass.Int64), Point: got.point.String}
		if got.id.String != e.ID || got.gauge.String != want.Gauge || at != p || got.seating.Int64 != int64(max(e.Place.Seating, 1)) || got.base.Float64 != want.Value.Float() {
			r.wrong(row, "its reading's row says %s, %s, %g, its bytes say %s, %s, %g; rebuild the projections",
				got.gauge.String, at, got.base.Float64, want.Gauge, p, want.Value.Float())
		}
	}
}

// recompute computes every stored result again.
func (r *Report) recompute(ctx context.Context, tx *sql.Tx, benchName string, step func()) error {
	return eachRun(ctx, tx, true, "bench = ?", " ORDER BY 1", []any{benchName}, func(s storedRun) error {
		r.result(fmt.Sprintf("result %d (%s, of entry %d)", s.id, s.slot, s.n), s)
		r.Results++
		step()
		return nil
	})
}

func (r *Report) result(row string, s storedRun) {
	stored, err := s.full()
	if err != nil {
		r.wrong(row, "cannot be read: %v", err)
		return
	}
	if stored.Slot() != s.slot || stored.N != s.n {
		r.wrong(row, "its bytes say %s, of entry %d", stored.Slot(), stored.N)
		return
	}
	m, ok := calc.Find(stored.Request.Method)
	if !ok || m.Version != stored.Version {
		r.Unknown = append(r.Unknown, Finding{row, fmt.Sprintf("%s, version %d: not recomputable by this build", stored.Request.Method, stored.Version)})
		return
	}
	again, err := calc.Run(stored.Request)
	if err != nil {
		if stored.Refused == "" {
			r.wrong(row, "its request is refused now: %v", err)
		}
		return
	}
	if what := differs(stored.Result, again); what != "" {
		r.wrong(row, "%s", what)
	}
}
