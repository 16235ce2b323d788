package ledgertest_test

import (
	"context"
	"path/filepath"
	"testing"

	"thoud/store"
	"thoud/store/ledgertest"
)

// A made ledger is whole: every seal, every reading, every result.
func TestAMadeLedgerIsWhole(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), store.File)
	made := ledgertest.Read(t)
	chain, err := made.FirstForm(ctx, path, 1500)
	if err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	l, err := s.Load(ctx, ledgertest.Bench)
	if err != nil || l.Chain != chain || len(l.Odd) > 0 {
		t.Fatalf("loaded up to %d of %d, odd %v, %v", l.Chain.N, chain.N, l.Odd, err)
	}
	rep, err := s.Verify(ctx, ledgertest.Bench, store.Check{})
	if err != nil || len(rep.Wrong) > 0 || rep.Entries != int(chain.N) {
		t.Fatalf("verify: %d entries, wrong %v, %v", rep.Entries, rep.Wrong, err)
	}
}
