package store

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
)

// A build is folded from its own entries: each part of the query finds them by an index that names them, and none goes
// through the ledger from its beginning (SQLite's own EXPLAIN QUERY PLAN is asked).
func TestABuildIsReadByItsOwnEntries(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, filepath.Join(t.TempDir(), File))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rows, err := s.reader.QueryContext(ctx, "EXPLAIN QUERY PLAN "+ofBuild, "bench", "17", 5, 100, "engine x")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	searches := 0
	for rows.Next() {
		var id, parent, unused int
		var what string
		if err := rows.Scan(&id, &parent, &unused, &what); err != nil {
			t.Fatal(err)
		}
		switch {
		case strings.HasPrefix(what, "SCAN"), strings.HasPrefix(what, "SEARCH") && strings.Contains(what, "(bench=? AND n<?)"):
			t.Errorf("it goes through all entries: %s", what)
		case strings.HasPrefix(what, "SEARCH"):
			searches++
		}
	}
	if err := rows.Err(); err != nil || searches != 4 {
		t.Errorf("%d searches, want 4; %v", searches, err)
	}
}
