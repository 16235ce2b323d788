package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"sync"

	"thoud/capture/bench"
)

// gistTables keep what pages of many builds take from each. They are a projection beside the ledger's form: a program that
// does not know them passes them over, and a ledger without them is read as if nothing was kept. Whatever makes the list of
// builds anew, this program or an older one, lets go of what was kept with it.
const gistTables = `
CREATE TABLE IF NOT EXISTS gist (
    bench    TEXT    NOT NULL,
    job      TEXT    NOT NULL,
    n        INTEGER NOT NULL, -- the last entry that it knows of, see gistLast
    form     TEXT    NOT NULL, -- of what is kept, see gistForm
    figures  BLOB    NOT NULL, -- hash of the names of its figures
    seatings TEXT    NOT NULL, -- JSON
    PRIMARY KEY (bench, job)
) STRICT, WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS finding (
    bench TEXT    NOT NULL,
    job   TEXT    NOT NULL,
    name  TEXT    NOT NULL,
    i     INTEGER NOT NULL, -- its place in the build
    large INTEGER NOT NULL,
    body  TEXT    NOT NULL, -- JSON
    PRIMARY KEY (bench, job, name, i)
) STRICT, WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS gist_figures ( -- the names of a build's figures, each list once: builds of one plan share it
    hash BLOB PRIMARY KEY CHECK (length(hash) = 32),
    body TEXT NOT NULL -- JSON
) STRICT, WITHOUT ROWID;
CREATE TRIGGER IF NOT EXISTS gist_gone AFTER DELETE ON build BEGIN
    DELETE FROM gist WHERE bench = old.bench AND job = old.job;
    DELETE FROM finding WHERE bench = old.bench AND job = old.job;
END;`

// gistForm names the form of what is kept; what another form left is reckoned anew.
var gistForm = sync.OnceValue(func() string {
	return fmt.Sprintf("%d %s", bench.GistVersion, formOf(reflect.TypeFor[bench.Gist]()))
})

// gistLast is the last entry that a build's gist hangs on: its own last, the last that a result of it came of, and, while it
// is open, the last about the record of its engine.
const gistLast = `max(b.n,
	coalesce((SELECT max(n) FROM entry WHERE entry.bench = b.bench AND entry.build = b.job), 0),
	coalesce((SELECT max(n) FROM run WHERE run.bench = b.bench AND run.build = b.job), 0),
	CASE WHEN b.closed = 0 AND b.engine <> '' THEN coalesce((SELECT max(n) FROM gauge_entry AS g WHERE g.bench = b.bench AND g.gauge = 'engine ' || b.engine), 0) ELSE 0 END)`

// makeGists makes the tables where they are not there.
func (s *Store) makeGists(ctx context.Context) error {
	_, err := s.writer.ExecContext(ctx, gistTables)
	s.gists = err == nil
	return err
}

// findGists looks whether a ledger that is only read has them.
func (s *Store) findGists(ctx context.Context) error {
	return s.reader.QueryRowContext(ctx, "SELECT count(*) = 3 FROM sqlite_schema WHERE type = 'table' AND name IN ('gist', 'finding', 'gist_figures')").Scan(&s.gists)
}

// TryReckon lets one look at a time reckon up what is not kept: any number of viewers cost one. It gives false where another does;
// else call end after.
func (s *Store) TryReckon() (end func(), ok bool) {
	if !s.reckons.TryLock() {
		return nil, false
	}
	return s.reckons.Unlock, true
}

// KeepGists keeps the gist of some builds as they were after an entry. One in which more was recorded since is passed over.
func (s *Store) KeepGists(ctx context.Context, benchName string, upTo uint64, all map[string]bench.Gist) error {
	for job, g := range all { // each in a transaction of its own: the bench waits for none of them long
		if err := s.inTx(ctx, func(ctx context.Context, tx writing) error { return keepGist(ctx, tx, benchName, job, upTo, g) }); err != nil {
			return s.fault(fmt.Errorf("gist of job %s: %w", job, err))
		}
	}
	return nil
}

func keepGist(ctx context.Context, tx writing, benchName, job string, upTo uint64, g bench.Gist) error {
	var last int64
	err := tx.QueryRowContext(ctx, "SELECT "+gistLast+" FROM build AS b WHERE b.bench = ? AND b.job = ?", benchName, job).Scan(&last)
	if errors.Is(err, sql.ErrNoRows) || err == nil && uint64(last) > upTo {
		return nil
	}
	if err != nil {
		return err
	}
	names, err := json.Marshal(bench.FigureNames(g.Findings))
	if err != nil {
		return err
	}
	seatings, err := json.Marshal(g.Seatings)
	if err != nil {
		return err
	}
	hash := sha256.Sum256(names)
	for _, q := range []struct {
		text string
		args []any
	}{
		{"DELETE FROM finding WHERE bench = ? AND job = ?", []any{benchName, job}},
		{"INSERT OR IGNORE INTO gist_figures (hash, body) VALUES (?, ?)", []any{hash[:], string(names)}},
		{"INSERT OR REPLACE INTO gist (bench, job, n, form, figures, seatings) VALUES (?, ?, ?, ?, ?, ?)", []any{benchName, job, last, gistForm(), hash[:], string(seatings)}},
	} {
		if _, err := tx.ExecContext(ctx, q.text, q.args...); err != nil {
			return err
		}
	}
	put, err := tx.PrepareContext(ctx, "INSERT INTO finding (bench, job, name, i, large, body) VALUES (?, ?, ?, ?, ?, ?)")
	if err != nil {
		return err
	}
	defer put.Close()
	for i, f := range g.Findings {
		body, err := json.Marshal(f)
		if err != nil {
			return err
		}
		if _, err := put.ExecContext(ctx, benchName, job, f.Name(), i, f.Large, string(body)); err != nil {
			return err
		}
	}
	return nil
}

// KeptBuild is a build with what was kept of it.
type KeptBuild struct {
	bench.BuildRow
	Fresh    bool // nothing was recorded in it since it was kept; else nothing is given of it but its row
	Findings []bench.Finding
	Figures  []bench.FigureName // shared by builds that have the same: read only
	Seatings []bench.Seating

	figures string
}

// GistWant says what is wanted of which builds.
type GistWant struct {
	Jobs     []string // nil all
	Engine   string   // "" any
	Named    string   // the findings of this name in any step
	Findings bool     // all findings
	Large    bool     // those that the plan wants shown
	Figures  bool     // the names of all figures
	Seatings bool
}

// Gists lists builds in the order they were started, with what was kept of them.
func (s *Store) Gists(ctx context.Context, benchName string, want GistWant) (out []KeptBuild, err error) {
	err = s.reading(ctx, func(tx *sql.Tx) error {
		if out, err = s.gistRows(ctx, tx, benchName, want); err != nil || !s.gists {
			return err
		}
		if want.Figures {
			if err := figuresOf(ctx, tx, out); err != nil {
				return err
			}
		}
		return findingsOf(ctx, tx, benchName, want, out)
	})
	return out, s.fault(err)
}

// Fill puts in what is wanted of a gist that was reckoned just now.
func (b *KeptBuild) Fill(g bench.Gist, want GistWant) {
	b.Fresh = true
	if want.Seatings {
		b.Seatings = g.Seatings
	}
	if want.Figures {
		b.Figures = bench.FigureNames(g.Findings)
	}
	for _, f := range g.Findings {
		if want.Findings || want.Large && f.Large || want.Named != "" && f.Name() == want.Named {
			b.Findings = append(b.Findings, f)
		}
	}
}

// where is the condition on builds, as table b.
func (w GistWant) where(benchName string) (string, []any, error) {
	cond, args := "b.bench = ?", []any{benchName}
	if w.Engine != "" {
		cond, args = cond+" AND b.engine = ?", append(args, w.Engine)
	}
	if w.Jobs != nil {
		jobs, err := json.Marshal(w.Jobs)
		if err != nil {
			return "", nil, err
		}
		cond, args = cond+" AND b.job IN (SELECT value FROM json_each(?))", append(args, string(jobs))
	}
	return cond, args, nil
}

// gistRows lists the builds, and whether what was kept of each still holds.
func (s *Store) gistRows(ctx context.Context, tx *sql.Tx, benchName string, want GistWant) ([]KeptBuild, error) {
	cond, args, err := want.where(benchName)
	if err != nil {
		return nil, err
	}
	columns, from := "0, 0, '', x'', ''", " FROM build AS b"
	if s.gists {
		columns, from = gistLast+", coalesce(k.n, 0), coalesce(k.form, ''), coalesce(k.figures, x''), coalesce(k.seatings, '')",
			" FROM build AS b LEFT JOIN gist AS k ON k.bench = b.bench AND k.job = b.job"
	}
	rows, err := tx.QueryContext(ctx, "SELECT b.job, b.engine, b.plan, b.n, b.at, b.closed, "+columns+from+" WHERE "+cond+" ORDER BY b.n", args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []KeptBuild
	for rows.Next() {
		var b KeptBuild
		var n, closed, last, kept int64
		var form string
		var figures, seatings sql.RawBytes
		if err := rows.Scan(&b.Job, &b.Engine, &b.Plan, &n, &b.At, &closed, &last, &kept, &form, &figures, &seatings); err != nil {
			return nil, err
		}
		b.N, b.Closed, b.figures = uint64(n), uint64(closed), string(figures)
		b.Fresh = kept > 0 && kept == last && form == gistForm()
		if b.Fresh && want.Seatings {
			if err := json.Unmarshal(seatings, &b.Seatings); err != nil {
				return nil, fmt.Errorf("seatings of job %s: %w; rebuild the projections", b.Job, err)
			}
		}
		out = append(out, b)
	}
	return out, rows.Err()
}

// figuresOf fills in the names of the builds' figures.
func figuresOf(ctx context.Context, tx *sql.Tx, out []KeptBuild) error {
	known := map[string][]bench.FigureName{}
	for i := range out {
		if !out[i].Fresh {
			continue
		}
		names, ok := known[out[i].figures]
		if !ok {
			var body []byte
			err := tx.QueryRowContext(ctx, "SELECT body FROM gist_figures WHERE hash = ?", []byte(out[i].figures)).Scan(&body)
			if err == nil {
				err = json.Unmarshal(body, &names)
			}
			if err != nil {
				return fmt.Errorf("figures of job %s: %w; rebuild the projections", out[i].Job, err)
			}
			known[out[i].figures] = names
		}
		out[i].Figures = names
	}
	return nil
}

// findingsOf fills in the findings that are wanted.
func findingsOf(ctx context.Context, tx *sql.Tx, benchName string, want GistWant, out []KeptBuild) error {
	cond, args, err := want.where(benchName)
	switch {
	case err != nil:
		return err
	case want.Named != "":
		cond, args = cond+" AND f.name = ?", append(args, want.Named)
	case want.Large:
		cond += " AND f.large"
	case !want.Findings:
		return nil
	}
	at := map[string]int{}
	for i, b := range out {
		at[b.Job] = i
	}
	rows, err := tx.QueryContext(ctx, "SELECT f.job, f.i, f.body FROM build AS b CROSS JOIN finding AS f ON f.bench = b.bench AND f.job = b.job WHERE "+cond+" ORDER BY b.n, f.i", args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var job string
		var place int
		var body sql.RawBytes
		if err := rows.Scan(&job, &place, &body); err != nil {
			return err
		}
		i, ok := at[job]
		if !ok || !out[i].Fresh {
			continue
		}
		var f bench.Finding
		if err := json.Unmarshal(body, &f); err != nil {
			return fmt.Errorf("finding %d of job %s: %w; rebuild the projections", place, job, err)
		}
		out[i].Findings = append(out[i].Findings, f)
	}
	return rows.Err()
}
