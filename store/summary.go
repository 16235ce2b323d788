package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"thoud/capture/bench"
)

// BuildSummary is what a list shows of a build.
type BuildSummary struct {
	bench.BuildRow
	bench.Summary
	Fresh bool // nothing was recorded in the build since it was reckoned
}

// Summaries lists every build, in the order they were started, with what was reckoned of it last.
func (s *Store) Summaries(ctx context.Context, benchName string) ([]BuildSummary, error) {
	return s.summaries(ctx, "bench = ?", benchName)
}

// SummariesBefore is Summaries of the newest builds that were begun before an entry, at most so many.
func (s *Store) SummariesBefore(ctx context.Context, benchName string, before uint64, most int) ([]BuildSummary, error) {
	return s.summaries(ctx, "bench = ? AND n < ? ORDER BY n DESC LIMIT ?", benchName, int64(min(before, Newest)), most)
}

// OpenSummaries is Summaries of the builds that were not closed.
func (s *Store) OpenSummaries(ctx context.Context, benchName string) ([]BuildSummary, error) {
	return s.summaries(ctx, "bench = ? AND closed = 0", benchName)
}

func (s *Store) summaries(ctx context.Context, where string, args ...any) ([]BuildSummary, error) {
	rows, err := s.reader.QueryContext(ctx, `SELECT job, engine, plan, n, at, closed, summary,
		coalesce((SELECT max(n) FROM entry WHERE entry.bench = some.bench AND entry.build = some.job), n)
		FROM (SELECT * FROM build WHERE `+where+`) AS some ORDER BY n`, args...)
	if err != nil {
		return nil, s.fault(err)
	}
	defer rows.Close()
	var out []BuildSummary
	for rows.Next() {
		var b BuildSummary
		var n, closed, last int64
		var text sql.RawBytes
		if err := rows.Scan(&b.Job, &b.Engine, &b.Plan, &n, &b.At, &closed, &text, &last); err != nil {
			return nil, s.fault(err)
		}
		b.N, b.Closed = uint64(n), uint64(closed)
		if len(text) > 0 {
			if err := json.Unmarshal(text, &b.Summary); err != nil {
				return nil, s.fault(fmt.Errorf("summary of job %s: %w; rebuild the projections", b.Job, err))
			}
		}
		// An open build of which it was not kept where it stands, or what is before it, is reckoned once more.
		b.Fresh = b.Steps > 0 && b.UpTo == uint64(last) && (b.Closed > 0 || b.Stands != "" && b.Heat != nil)
		out = append(out, b)
	}
	return out, s.fault(rows.Err())
}

// Summarise keeps what was reckoned of some builds.
func (s *Store) Summarise(ctx context.Context, benchName string, all map[string]bench.Summary) error {
	return s.fault(s.inTx(ctx, func(ctx context.Context, tx writing) error {
		for job, sum := range all {
			text, err := json.Marshal(sum)
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, "UPDATE build SET summary = ? WHERE bench = ? AND job = ?", string(text), benchName, job); err != nil {
				return err
			}
		}
		return nil
	}))
}

// movingKinds are the kinds of entry after which the bench stands where the entry says, as JSON.
const movingKinds = `["build-started","build-closed","step-entered","pass-opened","pass-closed","pass-void","reading","withdrawn"]`

// Here is the job that the bench stands at after the last entry; "" where it stands at none. It is where the last entry
// that moves the bench has put it.
func (s *Store) Here(ctx context.Context, benchName string) (string, error) {
	var job string
	err := s.reader.QueryRowContext(ctx, `SELECT CASE kind WHEN 'build-closed' THEN '' WHEN 'build-started' THEN (SELECT job FROM build WHERE build.bench = entry.bench AND build.n = entry.n) ELSE build END
		FROM entry WHERE bench = ?1 AND n = (
			SELECT max(n) FROM (SELECT (SELECT max(n) FROM entry WHERE bench = ?1 AND kind = moves.value) AS n FROM json_each(?2) AS moves))`,
		benchName, movingKinds).Scan(&job)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return job, s.fault(err)
}
