package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// ErrNotThere marks a question about an entry that is not in the ledger.
var ErrNotThere = errors.New("is not in the ledger")

// EntryRow is one entry as stored.
type EntryRow struct {
	Entry bench.Entry
	Body  []byte // as published
	Seal  bench.Seal
}

// ReadingRow is one captured value with all that is known of it.
type ReadingRow struct {
	N         uint64          `json:"n"`
	ID        string          `json:"id"`
	Kind      bench.Kind      `json:"kind"` // a reading, or a rest on the datum
	At        int64           `json:"at"`   // µs since 1970, UTC
	ClockOK   bool            `json:"clock_ok"`
	Place     bench.Place     `json:"place"`
	By        string          `json:"by,omitempty"`
	Gauge     string          `json:"gauge"`
	Channel   string          `json:"channel,omitempty"`
	Mode      string          `json:"mode,omitempty"`
	Keyed     bool            `json:"keyed,omitempty"`
	Frames    [][]byte        `json:"frames,omitempty"` // the bytes as they came
	Text      string          `json:"text,omitempty"`
	Raw       quantity.Value  `json:"raw"`
	Zero      string          `json:"zero,omitempty"`     // id of the zero in force
	ZeroRaw   *quantity.Value `json:"zero_raw,omitempty"` // what the gauge sent there
	ZeroShows *quantity.Value `json:"zero_shows,omitempty"`
	Value     quantity.Value  `json:"value"`
	Withdrawn uint64          `json:"withdrawn,omitempty"` // number of the entry that withdrew it
}

// Quarantined is a message that was no entry of this ledger.
type Quarantined struct {
	ID   int64  `json:"id"`
	Body []byte `json:"body"`
	Why  string `json:"why"`
	At   int64  `json:"at"`
}

// Counts are the sizes of a ledger.
type Counts struct {
	Entries, Readings, Results, Quarantined int
}

// EachEntry hands the entries that pass a filter to fn, one by one; it ends early, without an error, where fn says false.
func (s *Store) EachEntry(ctx context.Context, benchName string, f Filter, fn func(EntryRow) bool) error {
	query, args, err := f.entries(ctx, s.reader, benchName)
	if err != nil {
		return s.fault(err)
	}
	rows, err := s.reader.QueryContext(ctx, query, args...)
	if err != nil {
		return s.fault(err)
	}
	defer rows.Close()
	for left := f.Limit; rows.Next(); {
		row, err := scanEntry(rows)
		if err != nil {
			return s.fault(err)
		}
		if !f.says(row.Entry) {
			continue
		}
		if !fn(row) {
			return nil
		}
		if left--; left == 0 {
			return nil
		}
	}
	return s.fault(rows.Err())
}

func scanEntry(rows interface{ Scan(...any) error }) (EntryRow, error) {
	var row EntryRow
	var n int64
	var seal []byte
	if err := rows.Scan(&n, &row.Body, &seal); err != nil {
		return row, err
	}
	copy(row.Seal[:], seal)
	e, err := bench.Decode(row.Body)
	if err != nil {
		return row, fmt.Errorf("entry %d: %w; verify tells more", n, err)
	}
	row.Entry = e
	return row, nil
}

// Entries gives the entries that pass a filter.
func (s *Store) Entries(ctx context.Context, benchName string, f Filter) ([]EntryRow, error) {
	var out []EntryRow
	err := s.EachEntry(ctx, benchName, f, func(r EntryRow) bool { out = append(out, r); return true })
	return out, err
}

// Entry gives one entry in full, by its number. Wraps ErrNotThere.
func (s *Store) Entry(ctx context.Context, benchName string, n uint64) (EntryRow, error) {
	row, err := scanEntry(s.reader.QueryRowContext(ctx, "SELECT n, body, seal FROM entry WHERE bench = ? AND n = ?", benchName, int64(n)))
	if errors.Is(err, sql.ErrNoRows) {
		return row, s.fault(fmt.Errorf("entry %d %w", n, ErrNotThere))
	}
	return row, s.fault(err)
}

// EntryOf gives one entry in full, by its id. Wraps ErrNotThere.
func (s *Store) EntryOf(ctx context.Context, benchName, id string) (EntryRow, error) {
	row, err := entryOf(ctx, s.reader, benchName, id)
	return row, s.fault(err)
}

func entryOf(ctx context.Context, q queryer, benchName, id string) (EntryRow, error) {
	row, err := scanEntry(q.QueryRowContext(ctx, askEntryOf, benchName, id))
	if errors.Is(err, sql.ErrNoRows) {
		return row, fmt.Errorf("entry %s %w", id, ErrNotThere)
	}
	return row, err
}

// EachReading hands the readings that pass a filter to fn, one by one, withdrawn ones too; it ends early where fn says
// false.
func (s *Store) EachReading(ctx context.Context, benchName string, f Filter, fn func(ReadingRow) bool) error {
	cond, args := f.readings(benchName)
	// One transaction, and so one connection, for the readings and their zeros: were each zero to ask the pool for a
	// connection of its own, a few readers at once would wait for one another for ever.
	tx, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return s.fault(err)
	}
	defer func() { _ = tx.Rollback() }() // only read
	rows, err := tx.QueryContext(ctx, "SELECT entry.n, entry.body, entry.seal, reading.withdrawn FROM reading JOIN entry USING (bench, n) WHERE "+
		cond+f.order(), args...)
	if err != nil {
		return s.fault(err)
	}
	defer rows.Close()
	zeros := map[string]bench.Zero{}
	for left := f.Limit; rows.Next(); {
		var withdrawn int64
		row, err := scanEntry(also{rows, &withdrawn})
		if err != nil {
			return s.fault(err)
		}
		if !f.says(row.Entry) || row.Entry.Reading == nil {
			continue
		}
		r := readingRow(row.Entry, uint64(withdrawn))
		if err := addZero(ctx, tx, benchName, &r, zeros); err != nil {
			return s.fault(err)
		}
		if !fn(r) {
			return nil
		}
		if left--; left == 0 {
			return nil
		}
	}
	return s.fault(rows.Err())
}

// queryer is a connection pool or a transaction.
type queryer interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// also scans one column more.
type also struct {
	rows *sql.Rows
	into any
}

func (a also) Scan(into ...any) error { return a.rows.Scan(append(into, a.into)...) }

func readingRow(e bench.Entry, withdrawn uint64) ReadingRow {
	r := e.Reading
	return ReadingRow{N: e.N, ID: e.ID, Kind: e.Kind, At: e.At, ClockOK: e.ClockOK, Place: e.Place, By: e.By, Gauge: r.Gauge, Channel: r.Channel,
		Mode: r.Mode, Keyed: r.Keyed, Frames: r.Frames, Text: r.Text, Raw: r.Raw, Zero: r.Zero, Value: r.Value, Withdrawn: withdrawn}
}

// addZero puts what the zero in force was beside a reading; the same few zeros serve many readings.
func addZero(ctx context.Context, q queryer, benchName string, r *ReadingRow, zeros map[string]bench.Zero) error {
	if r.Zero == "" {
		return nil
	}
	z, ok := zeros[r.Zero]
	if !ok {
		row, err := entryOf(ctx, q, benchName, r.Zero)
		if errors.Is(err, ErrNotThere) || err == nil && row.Entry.Zero == nil {
			return nil // the row still says which zero it names
		}
		if err != nil {
			return err
		}
		z = *row.Entry.Zero
		zeros[r.Zero] = z
	}
	r.ZeroRaw, r.ZeroShows = &z.Raw, &z.Shows
	return nil
}

// Readings gives the readings that pass a filter.
func (s *Store) Readings(ctx context.Context, benchName string, f Filter) ([]ReadingRow, error) {
	var out []ReadingRow
	err := s.EachReading(ctx, benchName, f, func(r ReadingRow) bool { out = append(out, r); return true })
	return out, err
}

// Count gives the sizes of a ledger.
func (s *Store) Count(ctx context.Context, benchName string) (Counts, error) {
	var c Counts
	for _, q := range []struct {
		table string
		into  *int
	}{{"entry", &c.Entries}, {"reading", &c.Readings}, {"result", &c.Results}, {"run", &c.Results}, {"quarantine", &c.Quarantined}} {
		var n int
		if err := s.reader.QueryRowContext(ctx, "SELECT count(*) FROM "+q.table+" WHERE bench = ?", benchName).Scan(&n); err != nil {
			return c, s.fault(err)
		}
		*q.into += n
	}
	return c, nil
}

// Quarantined gives what was set aside, oldest first.
func (s *Store) Quarantined(ctx context.Context, benchName string) ([]Quarantined, error) {
	rows, err := s.reader.QueryContext(ctx, "SELECT id, body, why, at FROM quarantine WHERE bench = ? ORDER BY id", benchName)
	if err != nil {
		return nil, s.fault(err)
	}
	defer rows.Close()
	var out []Quarantined
	for rows.Next() {
		var q Quarantined
		if err := rows.Scan(&q.ID, &q.Body, &q.Why, &q.At); err != nil {
			return nil, s.fault(err)
		}
		out = append(out, q)
	}
	return out, s.fault(rows.Err())
}
