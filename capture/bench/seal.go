package bench

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
)

// Seal is SHA-256(seal before ‖ bytes as published). The first entry's seal before is all zeros.
type Seal [sha256.Size]byte

// After seals an entry's bytes onto the chain.
func (s Seal) After(body []byte) Seal {
	h := sha256.New()
	h.Write(s[:])
	h.Write(body)
	var next Seal
	h.Sum(next[:0])
	return next
}

// String is the seal in hex; "" for the start of a chain.
func (s Seal) String() string {
	if s == (Seal{}) {
		return ""
	}
	return hex.EncodeToString(s[:])
}

// ParseSeal reads what String printed.
func ParseSeal(text string) (Seal, error) {
	var s Seal
	if text == "" {
		return s, nil
	}
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != len(s) {
		return s, fmt.Errorf("%q is not a seal", text)
	}
	copy(s[:], b)
	return s, nil
}

// ErrFork marks an entry that does not follow the one before it: another number, or sealed onto another chain.
var ErrFork = errors.New("does not follow the ledger")

// Chain is where a ledger ends: the number and the seal of its last entry.
type Chain struct {
	N    uint64
	Seal Seal
}

// Next checks that an entry follows and gives the chain after it. Errors wrap ErrFork.
func (c Chain) Next(e Entry, body []byte) (Chain, error) {
	if e.N != c.N+1 {
		return c, fmt.Errorf("entry %d after %d: %w", e.N, c.N, ErrFork)
	}
	if e.Prev != c.Seal.String() {
		return c, fmt.Errorf("entry %d is sealed onto %.12s…, the ledger ends with %.12s…: %w", e.N, e.Prev, c.Seal, ErrFork)
	}
	return Chain{N: e.N, Seal: c.Seal.After(body)}, nil
}

// Number gives a draft its number and its link to the chain and returns the bytes to publish.
func (c Chain) Number(draft Entry) (Entry, []byte, error) {
	draft.V, draft.N, draft.Prev = Version, c.N+1, c.Seal.String()
	body, err := json.Marshal(draft)
	if err != nil {
		return Entry{}, nil, fmt.Errorf("entry %d: %w", draft.N, err)
	}
	return draft, body, nil
}
