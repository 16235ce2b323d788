package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"thoud/capture/bench"
)

// Noted is what a note says of a ledger: where it ended and what its results summed up to. Signed and kept elsewhere, it
// shows whether a ledger still holds exactly what it held then.
type Noted struct {
	Bench   string
	N       uint64 // the last entry
	Seal    string // its seal, in hex
	Results int    // how many results were stored
	Running string // the sum over them, in hex
	At      time.Time
}

// Text is the note in words, five lines.
func (n Noted) Text() string {
	return fmt.Sprintf("thoud note\nbench %s\nentry %d %s\nresults %d %s\nat %s\n", n.Bench, n.N, n.Seal, n.Results, n.Running, n.At.UTC().Format(time.RFC3339))
}

// ParseNoted reads what Text wrote.
func ParseNoted(text string) (Noted, error) {
	var n Noted
	var at string
	_, err := fmt.Sscanf(text, "thoud note\nbench %s\nentry %d %s\nresults %d %s\nat %s\n", &n.Bench, &n.N, &n.Seal, &n.Results, &n.Running, &at)
	if err == nil {
		n.At, err = time.Parse(time.RFC3339, at)
	}
	if err == nil && n.Text() != text {
		err = errors.New("something stands in it that does not belong there")
	}
	if err != nil {
		return n, fmt.Errorf("the note cannot be read: %w", err)
	}
	return n, nil
}

// Note says where a ledger ends, once that outlives a power cut.
func (s *Store) Note(ctx context.Context, benchName string) (Noted, error) {
	n := Noted{Bench: benchName, At: s.Now()}
	if err := s.AwaitSync(ctx); err != nil {
		return n, err
	}
	err := s.reading(ctx, func(tx *sql.Tx) error {
		end, err := lastOf(ctx, tx, benchName)
		if err != nil {
			return err
		}
		n.N, n.Seal = end.N, end.Seal.String()
		err = tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM result WHERE bench = ?1) + (SELECT count(*) FROM run WHERE bench = ?1) +
			coalesce((SELECT shared FROM line WHERE bench = ?1), 0)`, benchName).Scan(&n.Results)
		if err != nil {
			return err
		}
		sum, err := runningOf(ctx, tx, benchName)
		n.Running = hex.EncodeToString(sum[:])
		return err
	})
	return n, s.fault(err)
}

// Keys are the public keys of notes that a ledger's entries name.
func (s *Store) Keys(ctx context.Context, benchName string) ([]string, error) {
	var out []string
	all, err := spansOf(ctx, s.reader, benchName)
	for i := 0; i < len(all) && err == nil; i++ {
		err = s.keysIn(ctx, all[i], &out)
	}
	return out, s.fault(err)
}

func (s *Store) keysIn(ctx context.Context, p part, out *[]string) error {
	return eachBody(ctx, s.reader, func(_ uint64, e bench.Entry, bad error) error {
		if bad == nil && e.Key != "" {
			*out = append(*out, e.Key)
		}
		return nil
	}, "SELECT n, body FROM entry WHERE bench = ? AND kind = ? AND n <= ? ORDER BY n", p.bench, string(bench.KeyNamed), int64(p.to))
}
