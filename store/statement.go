package store

import (
	"context"
	"database/sql"
	"fmt"
)

// The statements of a recorded entry.
const (
	askKnown   = "SELECT seal FROM entry WHERE id = ?"
	askEnd     = "SELECT n, seal FROM entry WHERE bench = ? ORDER BY n DESC LIMIT 1"
	putEntry   = "INSERT INTO entry (bench, n, id, kind, at, build, step, pass, point, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
	putReading = "INSERT INTO reading (bench, n, id, build, step, pass, point, seating, gauge, base) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
	withdraw   = "UPDATE reading SET withdrawn = ? WHERE bench = ? AND id = ?"
	putRun     = "INSERT INTO result (bench, build, step, pass, key, n, method, version, verdict, provisional, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
	putUsed    = "INSERT OR IGNORE INTO result_reading (reading, result) VALUES (?, ?)"
	putPoint   = `INSERT INTO checkpoint (bench, generation, seq) VALUES (?, ?, ?)
		ON CONFLICT (bench) DO UPDATE SET generation = excluded.generation, seq = excluded.seq`
)

// prepare compiles the statements of a recorded entry once: compiled anew they cost more than the commit.
func (s *Store) prepare(ctx context.Context) error {
	s.prepared = map[string]*sql.Stmt{}
	for _, q := range []string{askKnown, askEnd, putEntry, putReading, withdraw, putRun, putUsed, putPoint} {
		stmt, err := s.writer.PrepareContext(ctx, q)
		if err != nil {
			return fmt.Errorf("%s: %w", q, err)
		}
		s.prepared[q] = stmt
	}
	return nil
}

// writing is a transaction of the writer, with the statements compiled for its connection.
type writing struct {
	*sql.Tx
	prepared map[string]*sql.Stmt
}

func (w writing) exec(ctx context.Context, query string, args ...any) (sql.Result, error) {
	return w.StmtContext(ctx, w.prepared[query]).ExecContext(ctx, args...)
}

func (w writing) row(ctx context.Context, query string, args ...any) *sql.Row {
	return w.StmtContext(ctx, w.prepared[query]).QueryRowContext(ctx, args...)
}
