package store

import (
	"context"
	"time"
)

// The index of what entries say grows by a piece with each commit, and pieces are merged into larger ones. Left to itself SQLite
// does that within every 64th commit, and the more of it the longer the ledger is: a reading waited for it up to 40 ms. So it is
// done once nothing was committed for a moment, a little at a time. Where that moment never comes, a commit merges sixteen
// pieces of one size at once.
const (
	quietAfter = 150 * time.Millisecond // nothing was committed for so long: a hand takes longer from one reading to the next
	mergeApart = 20 * time.Millisecond  // between two times
	mergePages = 8                      // in one
	mergeWaits = 100 * time.Millisecond // for who writes meanwhile
)

// mergeInTheQuiet takes the merging out of the commits. The index keeps that it is so.
func (s *Store) mergeInTheQuiet(ctx context.Context) error {
	var is bool
	if err := s.writer.QueryRowContext(ctx, "SELECT count(*) > 0 FROM said_config WHERE k = 'automerge' AND v = 0").Scan(&is); err != nil || is {
		return err
	}
	_, err := s.writer.ExecContext(ctx, "INSERT INTO said (said, rank) VALUES ('automerge', 0)")
	return err
}

// mergeSome merges a little, and reports whether there is more to do. Where it fails nothing is lost, and nothing need be told: the
// index is as it was, and whatever keeps the ledger from being written is told by the next commit.
func (s *Store) mergeSome() (more bool) {
	ctx, end := context.WithTimeout(context.Background(), mergeWaits)
	defer end()
	conn, err := s.writer.Conn(ctx)
	if err != nil {
		return true // somebody writes: later
	}
	defer conn.Close()
	var before, after int64
	if err := conn.QueryRowContext(ctx, "SELECT total_changes()").Scan(&before); err != nil {
		return false
	}
	if _, err := conn.ExecContext(ctx, "INSERT INTO said (said, rank) VALUES ('merge', ?)", mergePages); err != nil {
		return false
	}
	if err := conn.QueryRowContext(ctx, "SELECT total_changes()").Scan(&after); err != nil {
		return false
	}
	return after-before >= 2 // fewer: there was nothing to merge (SQLite's own description of FTS5, the merge command)
}
