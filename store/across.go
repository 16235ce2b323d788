package store

import "context"

// EachAcross hands the entries of all benches that say a text to fn, with the line each is kept under, newest stored first; it
// ends early where fn says false. The text has at least three signs.
func (s *Store) EachAcross(ctx context.Context, text string, fn func(line string, r EntryRow) bool) error {
	f := Filter{Text: text}
	rows, err := s.reader.QueryContext(ctx, `SELECT entry.n, entry.body, entry.seal, entry.bench FROM said CROSS JOIN entry ON entry.rowid = said.rowid
		WHERE said MATCH ? ORDER BY said.rowid DESC`, likely(text))
	if err != nil {
		return s.fault(err)
	}
	defer rows.Close()
	for rows.Next() {
		var line string
		row, err := scanEntry(also{rows, &line})
		if err != nil {
			return s.fault(err)
		}
		if f.says(row.Entry) && !fn(line, row) {
			return nil
		}
	}
	return s.fault(rows.Err())
}
