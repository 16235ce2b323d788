package store

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
)

// A commit writes as much in a long ledger as in a short one: what the index of words has to merge is merged in the quiet after,
// a little at a time.
func TestNoCommitMergesTheIndex(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), File)
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	var chain bench.Chain
	var words []string
	draw := rand.New(rand.NewPCG(1, 2))
	put := func(put Put) error {
		own := make([]string, 12)
		for i := range own {
			own[i] = fmt.Sprintf("%08x", draw.Uint32())
		}
		if chain.N%1000 == 50 {
			words = append(words, own[0])
		}
		e, body, err := chain.Number(bench.Entry{Bench: "bench", ID: fmt.Sprintf("id-%d", chain.N+1), Kind: bench.Dropped, Item: strings.Join(own, " ")})
		if err == nil {
			chain, err = chain.Next(e, body)
		}
		if err != nil {
			return err
		}
		return put(e, body, chain.Seal, nil, Checkpoint{Generation: "g", Seq: chain.N})
	}
	for chain.N < 20_000 {
		if err := s.Batch(ctx, "bench", func(p Put) error {
			for range 100 {
				if err := put(p); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil { // the log begins anew
		t.Fatal(err)
	}
	if s, err = Open(ctx, path); err != nil {
		t.Fatal(err)
	}
	if err := s.Batch(ctx, "bench", put); err != nil {
		t.Fatal(err)
	}
	pieces := func() (n int) {
		if err := s.reader.QueryRowContext(ctx, "SELECT count(DISTINCT segid) FROM said_idx").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	merged := func() {
		t.Helper()
		was := pieces()
		for late := time.Now().Add(20 * time.Second); pieces() > 12; time.Sleep(50 * time.Millisecond) {
			if time.Now().After(late) {
				t.Fatalf("%d pieces of the index were not merged in the quiet, %d are left", was, pieces())
			}
		}
	}
	merged()
	hold := make(chan struct{})
	force := s.sync.force
	s.mu.Lock()
	s.sync.force = func(path string) error { // the log only grows meanwhile
		<-hold
		return force(path)
	}
	s.mu.Unlock()
	one := func() int64 {
		before, err := os.Stat(path + walSuffix)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Batch(ctx, "bench", put); err != nil {
			t.Fatal(err)
		}
		after, err := os.Stat(path + walSuffix)
		if err != nil {
			t.Fatal(err)
		}
		return (after.Size() - before.Size()) / 4096
	}
	var least, most int64 = 1 << 60, 0
	for range 130 {
		n := one()
		least, most = min(least, n), max(most, n)
	}
	t.Logf("a commit of an entry wrote %d to %d pages", least, most)
	if most > 10*least {
		t.Errorf("a commit of an entry wrote %d pages, where others write %d", most, least)
	}
	close(hold)
	merged()
	for _, word := range words { // the first of some, long before and just now
		var found int
		if err := s.reader.QueryRowContext(ctx, "SELECT count(*) FROM said WHERE said MATCH ?", likely(word)).Scan(&found); err != nil || found == 0 {
			t.Errorf("%q is not found in the index any more, %v", word, err)
		}
	}
}
