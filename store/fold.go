package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"thoud/capture/bench"
)

// folder folds entries in order and keeps a few builds in memory: one that is touched again after it was let go of is
// folded anew from its own entries.
type folder struct {
	q     queryer
	bench string
	fold  bench.Fold
	state bench.State
	keep  int         // builds in memory, about
	odd   func(error) // hears of entries that mean nothing where they stand
	// loaded and gone hear of builds that come into memory, as they were after an entry, and leave it; nil where nobody
	// wants to know.
	loaded func(job string, upTo uint64) error
	gone   func(job string)
}

// manyBuilds is how many builds a long fold keeps in memory: more than a shop has on the go at once.
const manyBuilds = 12

// apply folds one entry.
func (f *folder) apply(ctx context.Context, e bench.Entry) error {
	for _, part := range f.state.Lacks(bench.Parts(e)) {
		if part.Engine != "" {
			g, err := loadRecord(ctx, f.q, f.fold, f.bench, part.Engine, e.N-1)
			if err != nil {
				return err
			}
			f.state = f.state.JoinRecord(g)
			continue
		}
		b, err := loadBuild(ctx, f.q, f.fold, f.bench, part.Build, e.N-1)
		if err != nil {
			return err
		}
		f.state = f.state.Join(b)
		if f.loaded != nil {
			if err := f.loaded(part.Build, e.N-1); err != nil {
				return err
			}
		}
	}
	next, err := f.fold.Apply(f.state, e)
	if err != nil && f.odd != nil {
		f.odd(err)
	}
	f.state = next
	if len(f.state.Builds) >= 2*f.keep {
		f.rest(f.keep)
	}
	return nil
}

func (f *folder) rest(keep int) {
	var gone []string
	f.state, gone = f.state.Rest(keep)
	for _, job := range gone {
		if f.gone != nil {
			f.gone(job)
		}
	}
}

// build folds one build with its results, as they were after an entry.
func build(ctx context.Context, q queryer, fold bench.Fold, benchName, job string, upTo uint64) (*bench.Build, bench.Results, error) {
	b, err := loadBuild(ctx, q, fold, benchName, job, upTo)
	if err != nil {
		return nil, bench.Results{}, err
	}
	all, err := newest(ctx, q, benchName, job, upTo)
	return b, bench.Results{}.With(all...), err
}

// loadBuild folds one build from its own entries up to a number. Wraps ErrNotThere.
func loadBuild(ctx context.Context, q queryer, fold bench.Fold, benchName, job string, upTo uint64) (*bench.Build, error) {
	row, err := buildRow(ctx, q, benchName, job)
	if err != nil {
		return nil, err
	}
	s, fold := bench.State{Bench: benchName}, fold.Reading()
	err = eachBody(ctx, q, func(n uint64, e bench.Entry, bad error) error {
		if bad == nil && (e.Kind == bench.BuildStarted || len(bench.Parts(e)) > 0) {
			s, _ = fold.Apply(s, e) // what means nothing where it stands was told when it was first folded
		}
		return nil
	}, ofBuild, benchName, job, int64(row.N), int64(upTo), aboutEngine(row.Engine))
	if err != nil {
		return nil, err
	}
	b, ok := s.Build(job)
	if !ok {
		return nil, fmt.Errorf("job %s, begun by entry %d: %w", job, row.N, ErrNotThere)
	}
	return b, nil
}

// aboutEngine is the name under which the table of what entries speak of keeps those about an engine's record. A gauge's
// name has no blank, so that none is taken for it.
func aboutEngine(engine string) string { return "engine " + engine }

// ofBuild asks for the entries of the build ?2, which entry ?3 began, up to ?4, with those about the record of its engine ?5.
const ofBuild = `SELECT n, body FROM entry WHERE bench = ?1 AND n = ?3
	UNION ALL SELECT n, body FROM entry WHERE bench = ?1 AND build = ?2 AND n > ?3 AND n <= ?4
	UNION ALL ` + ofEngine + ` ORDER BY n`

// ofEngine asks for the entries about the record of the engine ?5 up to ?4. CROSS JOIN holds SQLite to this order of tables:
// left to itself it reads every entry there is, to have them in order.
const ofEngine = `SELECT e.n, e.body FROM gauge_entry g CROSS JOIN entry e ON e.bench = g.bench AND e.n = g.n
	WHERE g.bench = ?1 AND g.gauge = ?5 AND g.n <= ?4`

// loadRecord folds the record of an engine from the entries about it up to a number; one without any is empty.
func loadRecord(ctx context.Context, q queryer, fold bench.Fold, benchName, engine string, upTo uint64) (*bench.Engine, error) {
	s := bench.State{Bench: benchName}
	err := eachBody(ctx, q, func(n uint64, e bench.Entry, bad error) error {
		if bad == nil {
			s, _ = fold.Apply(s, e) // what means nothing where it stands was told when it was first folded
		}
		return nil
	}, `SELECT e.n, e.body FROM gauge_entry g CROSS JOIN entry e ON e.bench = g.bench AND e.n = g.n
		WHERE g.bench = ?1 AND g.gauge = ?2 AND g.n <= ?3 ORDER BY e.n`, benchName, aboutEngine(engine), int64(min(upTo, Newest)))
	if err != nil {
		return nil, err
	}
	if g, ok := s.Record(engine); ok {
		return g, nil
	}
	return &bench.Engine{Name: engine}, nil
}

// Engine gives the record of an engine as it was after an entry; one that nothing was ever kept of is empty.
func (s *Store) Engine(ctx context.Context, benchName, engine string, upTo uint64) (*bench.Engine, error) {
	g, err := loadRecord(ctx, s.reader, s.fold, benchName, engine, upTo)
	return g, s.fault(err)
}

// Engines lists the engines that have a record, the one touched last at the end.
func (s *Store) Engines(ctx context.Context, benchName string) ([]bench.EngineRow, error) {
	rows, err := s.reader.QueryContext(ctx, `SELECT substr(g.gauge, 8), max(g.n), e.at FROM gauge_entry g CROSS JOIN entry e ON e.bench = g.bench AND e.n = g.n
		WHERE g.bench = ? AND g.gauge LIKE 'engine %' AND g.kind = ? GROUP BY g.gauge ORDER BY 2`, benchName, string(bench.EngineValues))
	if err != nil {
		return nil, s.fault(err)
	}
	defer rows.Close()
	var out []bench.EngineRow
	for rows.Next() {
		var r bench.EngineRow
		var n int64
		if err := rows.Scan(&r.Name, &n, &r.At); err != nil {
			return nil, s.fault(err)
		}
		r.N = uint64(n)
		out = append(out, r)
	}
	return out, s.fault(rows.Err())
}

// eachBody decodes the entries of a query, in its order; what cannot be decoded comes with its fault.
func eachBody(ctx context.Context, q queryer, fn func(n uint64, e bench.Entry, bad error) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var n int64
		var body sql.RawBytes
		if err := rows.Scan(&n, &body); err != nil {
			return err
		}
		e, bad := bench.Decode(body)
		if err := fn(uint64(n), e, bad); err != nil {
			return err
		}
	}
	return rows.Err()
}

// buildRow is what is known of a build without folding it. Wraps ErrNotThere.
func buildRow(ctx context.Context, q queryer, benchName, job string) (bench.BuildRow, error) {
	rows, err := buildRows(ctx, q, "bench = ? AND job = ?", benchName, job)
	if err == nil && len(rows) == 0 {
		err = fmt.Errorf("job %s %w", job, ErrNotThere)
	}
	if err != nil {
		return bench.BuildRow{}, err
	}
	return rows[0], nil
}

func buildRows(ctx context.Context, q queryer, where string, args ...any) ([]bench.BuildRow, error) {
	rows, err := q.QueryContext(ctx, "SELECT job, engine, plan, n, at, closed FROM build WHERE "+where+" ORDER BY n", args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []bench.BuildRow
	for rows.Next() {
		var b bench.BuildRow
		var n, closed int64
		if err := rows.Scan(&b.Job, &b.Engine, &b.Plan, &n, &b.At, &closed); err != nil {
			return nil, err
		}
		b.N, b.Closed = uint64(n), uint64(closed)
		out = append(out, b)
	}
	return out, rows.Err()
}

// Builds lists every build there ever was, in the order they were started.
func (s *Store) Builds(ctx context.Context, benchName string) ([]bench.BuildRow, error) {
	rows, err := buildRows(ctx, s.reader, "bench = ?", benchName)
	return rows, s.fault(err)
}

// Build folds one build and gives it with its results in force, as they were after an entry. Wraps ErrNotThere.
func (s *Store) Build(ctx context.Context, benchName, job string, upTo uint64) (b *bench.Build, results bench.Results, err error) {
	err = s.reading(ctx, func(tx *sql.Tx) (err error) {
		b, results, err = build(ctx, tx, s.fold, benchName, job, min(upTo, Newest))
		return err
	})
	return b, results, s.fault(err)
}

// Newest is an entry later than any: all there is.
const Newest = 1 << 62

// StateOf gives what a build amounts to by itself, up to its last entry: the build, the gauges and the
// parts as they stood then, and the list of all builds. Of a job that was never started it gives that list alone.
func (s *Store) StateOf(ctx context.Context, benchName, job string) (bench.State, bench.Chain, error) {
	st := bench.State{Bench: benchName}
	var end bench.Chain
	err := s.reading(ctx, func(tx *sql.Tx) error {
		row, err := buildRow(ctx, tx, benchName, job)
		if err != nil && !errors.Is(err, ErrNotThere) {
			return err
		}
		if end, err = lastOf(ctx, tx, benchName); err != nil {
			return err
		}
		if row.N > 0 {
			if err := foldAlone(ctx, tx, s.fold, &st, row); err != nil {
				return err
			}
		}
		st.Index, err = buildRows(ctx, tx, "bench = ?", benchName)
		return err
	})
	return st, end, s.fault(err)
}

// foldAlone folds a build's own entries, with those that say how the gauges stood: the register's up to the build's last
// entry, and between its first and last the zeros and links of other work.
func foldAlone(ctx context.Context, q queryer, fold bench.Fold, st *bench.State, row bench.BuildRow) error {
	last, parts := int64(row.Closed), int64(row.Closed) // parts go in and come out beside the work of a build
	if last == 0 {
		parts = Newest
		err := q.QueryRowContext(ctx, "SELECT coalesce(max(n), ?3) FROM entry WHERE bench = ?1 AND build = ?2", st.Bench, row.Job, int64(row.N)).Scan(&last)
		if err != nil {
			return err
		}
	}
	fold = fold.Reading()
	return eachBody(ctx, q, func(n uint64, e bench.Entry, bad error) error {
		if bad == nil {
			*st, _ = fold.Apply(*st, e) // what means nothing where it stands was told when it was first folded
		}
		return nil
	}, `SELECT n, body FROM entry WHERE bench = ?1 AND n IN (
			SELECT ?3
			UNION SELECT n FROM entry WHERE bench = ?1 AND build = ?2 AND n >= ?3
			UNION SELECT n FROM entry WHERE bench = ?1 AND kind IN ('gauge-added', 'gauge-removed', 'gauge-checked', 'gauge-chosen', 'profile') AND n <= ?4
			UNION SELECT n FROM entry WHERE bench = ?1 AND kind IN ('zero-set', 'zero-lost', 'gauge-lost', 'gauge-back', 'datum-seen') AND n BETWEEN ?3 AND ?4
			UNION SELECT n FROM entry WHERE bench = ?1 AND kind IN ('part-fitted', 'part-out') AND n <= ?6
			UNION SELECT n FROM gauge_entry WHERE bench = ?1 AND gauge = ?5 AND n <= ?4)
		ORDER BY n`, st.Bench, row.Job, int64(row.N), last, aboutEngine(row.Engine), parts)
}

// End is where a bench's ledger ends.
func (s *Store) End(ctx context.Context, benchName string) (bench.Chain, error) {
	c, err := lastOf(ctx, s.reader, benchName)
	return c, s.fault(err)
}

// lastOf is where a bench's ledger ends.
func lastOf(ctx context.Context, q queryer, benchName string) (bench.Chain, error) {
	var c bench.Chain
	var n int64
	var seal []byte
	err := q.QueryRowContext(ctx, askEnd, benchName).Scan(&n, &seal)
	if errors.Is(err, sql.ErrNoRows) {
		return beginOf(ctx, q, benchName)
	}
	c.N = uint64(n)
	copy(c.Seal[:], seal)
	return c, err
}

// reading runs fn in one read transaction: it sees one moment of the ledger.
func (s *Store) reading(ctx context.Context, fn func(*sql.Tx) error) error {
	tx, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // only read
	return fn(tx)
}
