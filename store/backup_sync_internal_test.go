package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"thoud/capture/bench"
)

// A copy holds what would outlive a power cut: it is not finished before the ledger is forced to the disk as far as the
// copy goes. A copy that held more would tell, after the cut, of entries that the bench then numbers anew.
func TestABackupWaitsForTheDisk(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	s, err := Open(ctx, filepath.Join(dir, File))
	if err != nil {
		t.Fatal(err)
	}
	hold := make(chan struct{})
	force := s.sync.force
	s.mu.Lock()
	s.sync.force = func(path string) error {
		<-hold
		return force(path)
	}
	s.mu.Unlock()
	var chain bench.Chain
	e, body, err := chain.Number(bench.Entry{Bench: "bench", ID: "id-1", Kind: bench.Dropped, Item: "a nut"})
	if err == nil {
		chain, err = chain.Next(e, body)
	}
	if err == nil {
		err = s.Record(ctx, "bench", e, body, chain.Seal, nil, Checkpoint{Generation: "g", Seq: 1})
	}
	if err != nil {
		t.Fatal(err)
	}
	copied := filepath.Join(dir, "copy.db")
	ended := make(chan error, 1)
	go func() { ended <- s.Backup(ctx, copied, nil) }()
	select {
	case err := <-ended:
		t.Errorf("the copy was finished (%v) while the ledger was not yet on the disk", err)
		ended <- err
	case <-time.After(300 * time.Millisecond):
		if _, err := os.Stat(copied); err == nil {
			t.Error("the copy has its name while the ledger is not yet on the disk")
		}
	}
	close(hold)
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
