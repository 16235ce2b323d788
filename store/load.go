package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"thoud/capture/bench"
)

// Loaded is what a ledger amounts to.
type Loaded struct {
	State      bench.State
	Chain      bench.Chain
	Results    bench.Results // the newest of every slot
	Checkpoint Checkpoint
	// Odd names entries that mean nothing where they stand; they are in the ledger all the same.
	Odd []string
}

// Load folds every entry of a bench, in order.
func (s *Store) Load(ctx context.Context, benchName string) (Loaded, error) {
	var l Loaded
	tx, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return l, s.fault(err)
	}
	defer func() { _ = tx.Rollback() }() // only read
	l.State.Bench = benchName
	if err := l.fold(ctx, tx, benchName); err != nil {
		return l, s.fault(err)
	}
	if l.Results, err = newest(ctx, tx, benchName); err != nil {
		return l, s.fault(err)
	}
	var seq int64
	err = tx.QueryRowContext(ctx, "SELECT generation, seq FROM checkpoint WHERE bench = ?", benchName).Scan(&l.Checkpoint.Generation, &seq)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return l, s.fault(err)
	}
	l.Checkpoint.Seq = uint64(seq)
	return l, nil
}

// decoded is an entry on its way from the file to the fold.
type decoded struct {
	n     uint64
	seal  bench.Seal
	entry bench.Entry
	err   error
}

// batch is how many entries go from one goroutine to the next at once.
const batch = 256

// fold reads and decodes in one goroutine and folds in another: decoding is the slower half.
func (l *Loaded) fold(ctx context.Context, tx *sql.Tx, benchName string) error {
	batches := make(chan []decoded, 4)
	read := make(chan error, 1)
	go func() {
		defer close(batches)
		read <- readEntries(ctx, tx, benchName, batches)
	}()
	for b := range batches {
		for _, d := range b {
			l.Chain = bench.Chain{N: d.n, Seal: d.seal}
			if d.err != nil {
				l.Odd = append(l.Odd, fmt.Sprintf("entry %d: %v", d.n, d.err))
				continue
			}
			next, err := bench.Apply(l.State, d.entry)
			if err != nil {
				l.Odd = append(l.Odd, err.Error())
			}
			l.State = next
		}
	}
	return <-read
}

func readEntries(ctx context.Context, tx *sql.Tx, benchName string, batches chan<- []decoded) error {
	rows, err := tx.QueryContext(ctx, "SELECT n, body, seal FROM entry WHERE bench = ? ORDER BY n", benchName)
	if err != nil {
		return err
	}
	defer rows.Close()
	b := make([]decoded, 0, batch)
	for rows.Next() {
		var n int64
		var body, seal sql.RawBytes
		if err := rows.Scan(&n, &body, &seal); err != nil {
			return err
		}
		d := decoded{n: uint64(n)}
		copy(d.seal[:], seal)
		d.entry, d.err = bench.Decode(body)
		if b = append(b, d); len(b) == batch {
			batches <- b
			b = make([]decoded, 0, batch)
		}
	}
	batches <- b
	return rows.Err()
}

// newest gives the results in force.
func newest(ctx context.Context, tx *sql.Tx, benchName string) (bench.Results, error) {
	rows, err := tx.QueryContext(ctx, "SELECT body, max(n) FROM result WHERE bench = ? GROUP BY build, step, pass, key", benchName)
	if err != nil {
		return bench.Results{}, err
	}
	defer rows.Close()
	results := bench.Results{}
	for rows.Next() {
		var body sql.RawBytes
		var n int64
		if err := rows.Scan(&body, &n); err != nil {
			return results, err
		}
		var r bench.Result
		if err := json.Unmarshal(body, &r); err != nil {
			return results, fmt.Errorf("result of entry %d: %w", n, err)
		}
		results = results.With(r)
	}
	return results, rows.Err()
}
