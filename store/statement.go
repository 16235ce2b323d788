package store

import (
	"context"
	"database/sql"
	"fmt"
)

// The statements of a recorded entry.
const (
	askKnown   = "SELECT seal, bench FROM entry WHERE id = ?"
	askEnd     = "SELECT n, seal FROM entry WHERE bench = ? ORDER BY n DESC LIMIT 1"
	putEntry   = "INSERT INTO entry (bench, n, id, kind, at, build, step, pass, point, body, seal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
	putReading = `INSERT INTO reading (bench, n, id, build, step, pass, point, seating, gauge, base)
		VALUES (?1, ?2, (SELECT id FROM entry WHERE bench = ?1 AND n = ?2), ?3, ?4, ?5, ?6, ?7, ?8, ?9)`
	withdraw   = "UPDATE reading SET withdrawn = ?3 WHERE " + ofLine
	askRequest = "SELECT id FROM request WHERE hash = ?"
	putRequest = "INSERT INTO request (hash, body) VALUES (?, ?)"
	askRunning = "SELECT running FROM run WHERE bench = ? ORDER BY id DESC LIMIT 1"
	putRun     = `INSERT INTO run (bench, build, step, pass, key, n, method, version, rules, verdict, provisional, request, body, running)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`
	putUsed    = "INSERT OR IGNORE INTO run_reading (reading, run) VALUES (?, ?)"
	putGauge   = "INSERT OR IGNORE INTO gauge_entry (bench, gauge, kind, n) VALUES (?, ?, ?, ?)"
	putBuild   = "INSERT OR IGNORE INTO build (bench, job, engine, plan, n, at) VALUES (?, ?, ?, ?, ?, ?)"
	closeBuild = "UPDATE build SET closed = ? WHERE bench = ? AND job = ?"
	putSaid    = "INSERT INTO said (rowid, words) VALUES (?, ?)"
	putPoint   = `INSERT INTO checkpoint (bench, generation, seq, n) VALUES (?, ?, ?, ?)
		ON CONFLICT (bench) DO UPDATE SET generation = excluded.generation, seq = excluded.seq, n = max(n, excluded.n)`
)

// prepare compiles the statements of a recorded entry once: compiled anew they cost more than the commit.
func (s *Store) prepare(ctx context.Context) (err error) {
	s.prepared, err = compile(ctx, s.writer, askKnown, askEnd, putEntry, putReading, withdraw, askRequest, putRequest, askRunning, putRun, putUsed,
		putGauge, putBuild, closeBuild, putSaid, putPoint)
	return err
}

func compile(ctx context.Context, on interface {
	PrepareContext(context.Context, string) (*sql.Stmt, error)
}, texts ...string) (map[string]*sql.Stmt, error) {
	out := map[string]*sql.Stmt{}
	for _, q := range texts {
		stmt, err := on.PrepareContext(ctx, q)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", q, err)
		}
		out[q] = stmt
	}
	return out, nil
}

// writing is a transaction of the writer, with the statements compiled for its connection.
type writing struct {
	*sql.Tx
	prepared map[string]*sql.Stmt
}

// exec and row run a statement of a recorded entry; while a ledger is brought up to date none is compiled yet.
func (w writing) exec(ctx context.Context, query string, args ...any) (sql.Result, error) {
	if w.prepared == nil {
		return w.ExecContext(ctx, query, args...)
	}
	return w.StmtContext(ctx, w.prepared[query]).ExecContext(ctx, args...)
}

func (w writing) row(ctx context.Context, query string, args ...any) *sql.Row {
	if w.prepared == nil {
		return w.QueryRowContext(ctx, query, args...)
	}
	return w.StmtContext(ctx, w.prepared[query]).QueryRowContext(ctx, args...)
}
