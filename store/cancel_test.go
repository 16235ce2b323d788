package store_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"thoud/store"
)

// A service that is told to end while it records leaves one file, with everything it was told is stored and nothing in
// halves, and no log beside it that only another start would write back.
func TestEndingInTheMiddleOfRecording(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for range 30 {
		dir := t.TempDir()
		path := filepath.Join(dir, store.File)
		s, err := store.Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		h := fill(t, s)
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(random.IntN(3000))*time.Microsecond)
		recorded := h.chain
		for i := 0; err == nil; i++ {
			m := h.reading(fmt.Sprint(i), "0.1")
			if err = s.Record(ctx, benchName, m.entry, m.body, m.seal, nil, m.cp); err == nil {
				recorded = h.chain
			}
		}
		cancel()
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Fatalf("recording ended with %v", err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		files, err := os.ReadDir(dir)
		if err != nil || len(files) != 1 {
			t.Errorf("%d files left, %v", len(files), err)
		}
		l, err := MustOpenAt(t, path).Load(context.Background(), benchName)
		if err != nil || l.Chain != recorded {
			t.Errorf("the ledger ends with %d, %v; %d were recorded", l.Chain.N, err, recorded.N)
		}
	}
}
