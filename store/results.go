package store

import (
	"context"
	"encoding/json"
	"fmt"

	"thoud/capture/bench"
)

// History gives every result of a build, in the order they were computed: a slot's older results come before the one
// in force.
func (s *Store) History(ctx context.Context, benchName, job string) ([]bench.Result, error) {
	return s.results(ctx, "SELECT n, body FROM result WHERE bench = ? AND build = ? ORDER BY n, id", benchName, job)
}

// Using gives every result that a reading went into, by the reading's id.
func (s *Store) Using(ctx context.Context, benchName, reading string) ([]bench.Result, error) {
	return s.results(ctx, `SELECT n, body FROM result JOIN result_reading ON result_reading.result = result.id
		WHERE bench = ? AND result_reading.reading = ? ORDER BY n, id`, benchName, reading)
}

func (s *Store) results(ctx context.Context, query string, args ...any) ([]bench.Result, error) {
	rows, err := s.reader.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, s.fault(err)
	}
	defer rows.Close()
	var out []bench.Result
	for rows.Next() {
		var n int64
		var body []byte
		if err := rows.Scan(&n, &body); err != nil {
			return nil, s.fault(err)
		}
		var r bench.Result
		if err := json.Unmarshal(body, &r); err != nil {
			return nil, s.fault(fmt.Errorf("result of entry %d: %w; verify tells more", n, err))
		}
		out = append(out, r)
	}
	return out, s.fault(rows.Err())
}
