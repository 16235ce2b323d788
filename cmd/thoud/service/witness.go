package service

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"

	"golang.org/x/mod/sumdb/note"

	"thoud/capture/bench"
	"thoud/store"
)

// Witnessed is the newest note that a bench signed, with the hub's own signature under the bench's: the hub has every entry
// and every result up to there, as the bench said, and says so. Whoever owns the bench's disk cannot make that anew. Only
// what the hub holds itself is signed: a note whose entries or results are not all here is an error that says so.
func Witnessed(ctx context.Context, s *store.Store, dir, line string) (string, error) {
	c, err := ReadHubSettings(dir)
	if err != nil {
		return "", err
	}
	lines, err := s.Lines(ctx)
	if err != nil {
		return "", err
	}
	text := ""
	for _, l := range lines {
		if l.Name == line {
			text = l.Note
		}
	}
	if text == "" {
		return "", fmt.Errorf("bench %s: it has signed nothing yet that is here", line)
	}
	noted, opened, err := openNote(ctx, s, line, text)
	if err != nil {
		return "", fmt.Errorf("bench %s: %w", line, err)
	}
	if err := holds(ctx, s, line, noted); err != nil {
		return "", fmt.Errorf("bench %s: %w", line, err)
	}
	secret, _, err := signingKey(dir, hubSigner(c.Name))
	if err != nil {
		return "", err
	}
	signer, err := note.NewSigner(secret)
	if err != nil {
		return "", err
	}
	both, err := note.Sign(opened, signer)
	return string(both), err
}

// openNote checks the bench's signature by the keys that its ledger names.
func openNote(ctx context.Context, s *store.Store, line, text string) (store.Noted, *note.Note, error) {
	keys, err := s.Keys(ctx, line)
	if err != nil {
		return store.Noted{}, nil, err
	}
	noted, err := OpenNote(text, keys)
	if err != nil {
		return noted, nil, err
	}
	list, err := verifiers(keys)
	if err != nil {
		return noted, nil, err
	}
	opened, err := note.Open([]byte(text), list)
	return noted, opened, err
}

// holds reports why a line does not hold what a note says; nil where it does.
func holds(ctx context.Context, s *store.Store, line string, n store.Noted) error {
	seal, ok, err := s.SealAt(ctx, line, n.N)
	if err != nil {
		return err
	}
	sum, told, err := runningAt(ctx, s, line, n.Results)
	want, bad := bench.ParseSeal(n.Seal)
	switch {
	case err != nil || bad != nil:
		return errors.Join(err, bad)
	case !ok || seal != want:
		return fmt.Errorf("its note is of entry %d %.12s…, which is not here as it says", n.N, n.Seal)
	case !told:
		return fmt.Errorf("its note is of %d results, which are not all here yet", n.Results)
	case hex.EncodeToString(sum[:]) != n.Running:
		return fmt.Errorf("its first %d results are not those that the note says", n.Results)
	}
	return nil
}

// WitnessKeys are the public keys of hubs whose signature under a note counts in a state folder: at a bench those of the hubs
// it has joined, at a hub its own.
func WitnessKeys(dir string) ([]string, error) {
	joined, err := Joined(dir)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, i := range joined {
		if i.Witness != "" {
			out = append(out, i.Witness)
		}
	}
	if found, err := filepath.Glob(filepath.Join(dir, authorityName)); err != nil || len(found) == 0 {
		return out, err
	}
	c, err := ReadHubSettings(dir)
	if err != nil {
		return nil, err
	}
	_, public, err := signingKey(dir, hubSigner(c.Name))
	return append(out, public), err
}
