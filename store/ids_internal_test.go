package store

import (
	"path/filepath"
	"strings"
	"testing"
)

// What is looked for by its id is found by an index, however much a line has.
func TestAnIDIsFoundByItsIndex(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), File))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, q := range []struct {
		text string
		args []any
	}{
		{askEntryOf, []any{"one", "0190"}},
		{withdraw, []any{"one", "0190", 8}},
		{askKnown, []any{"0190"}},
	} {
		var id, parent, unused int
		var plan string
		if err := s.writer.QueryRowContext(t.Context(), "EXPLAIN QUERY PLAN "+q.text, q.args...).Scan(&id, &parent, &unused, &plan); err != nil {
			t.Fatalf("%s: %v", q.text, err)
		}
		if !strings.HasPrefix(plan, "SEARCH") || !strings.HasSuffix(plan, "(id=?)") {
			t.Errorf("%s: %s", q.text, plan)
		}
	}
}
