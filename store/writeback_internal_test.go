package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
)

// No commit writes the log back, and so none waits for the syncs that this takes: while nothing can be forced to the disk the
// ledger's own file stays as it is, however many entries are taken. It is written back beside the commits afterwards.
func TestNoCommitWritesTheLogBack(t *testing.T) {
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
	hold := make(chan struct{})
	force := s.sync.force
	s.mu.Lock()
	s.sync.force = func(path string) error {
		<-hold
		return force(path)
	}
	s.mu.Unlock()
	size := func(path string) int64 {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		return info.Size()
	}
	before := size(path)
	var chain bench.Chain
	const page, usual = 4096, 1000 // after so many pages SQLite would do it by itself
	for n := uint64(1); n <= 2*writeBackEvery; n++ {
		e, body, err := chain.Number(bench.Entry{Bench: "bench", ID: fmt.Sprintf("id-%d", n), Kind: bench.Dropped, Item: strings.Repeat("a nut ", 3000)})
		if err == nil {
			chain, err = chain.Next(e, body)
		}
		if err == nil {
			err = s.Record(ctx, "bench", e, body, chain.Seal, nil, Checkpoint{Generation: "g", Seq: n})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if now := size(path); now != before {
		t.Errorf("the commits made the ledger's file %d bytes long from %d: they wrote the log back", now, before)
	}
	if long := size(path + walSuffix); long < usual*page {
		t.Fatalf("the log is %d bytes long: nothing was shown", long)
	}
	close(hold)
	for late := time.Now().Add(10 * time.Second); size(path) == before; time.Sleep(10 * time.Millisecond) {
		if time.Now().After(late) {
			t.Fatal("the log was never written back")
		}
	}
	if err := s.AwaitSync(ctx); err != nil {
		t.Error(err)
	}
}
