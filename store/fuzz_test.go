package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store"
)

// smallLedger is the file of a ledger with a gauge, a zero and a few readings, packed into one file.
func smallLedger(f *testing.F) []byte {
	ctx := context.Background()
	path := filepath.Join(f.TempDir(), store.File)
	s, err := store.Open(ctx, path)
	if err != nil {
		f.Fatal(err)
	}
	v, err := quantity.Parse("0.1234 in")
	if err != nil {
		f.Fatal(err)
	}
	var chain bench.Chain
	for i, e := range []bench.Entry{
		{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath}},
		{Kind: bench.ZeroSet, Zero: &bench.Zero{Gauge: "dial-1", Raw: v, Shows: v}},
		{Kind: bench.ReadingTaken, Place: bench.Place{Build: "17"}, Reading: &bench.Reading{Gauge: "dial-1", Mode: "press", Raw: v, Value: v, Frames: [][]byte{[]byte("+0.1234 in\r")}}},
		{Kind: bench.Dropped, Item: "a nut"},
		{Kind: bench.Found, Item: "a nut"},
	} {
		e.Bench, e.ID = "bench", "id-"+string(rune('a'+i))
		e, body, err := chain.Number(e)
		if err == nil {
			chain, err = chain.Next(e, body)
		}
		if err == nil {
			err = s.Record(ctx, "bench", e, body, chain.Seal, nil, store.Checkpoint{Generation: "g", Seq: chain.N})
		}
		if err != nil {
			f.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		f.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	return b
}

// FuzzLedger opens, verifies and loads a ledger in which bytes were changed, or that is another file altogether: it ends
// soon, with a fault in words or with findings, and never stops the program.
func FuzzLedger(f *testing.F) {
	whole := smallLedger(f)
	f.Add([]byte(nil), uint32(len(whole)))
	f.Add([]byte{0, 0, 18, 9}, uint32(len(whole)))                  // the form of the file's head
	f.Add([]byte{0, 0, 28, 0xff, 0, 0, 36, 7}, uint32(len(whole)))  // how many pages, free pages
	f.Add([]byte{0, 16, 0, 5, 0, 16, 3, 0xff}, uint32(len(whole)))  // the second page's head
	f.Add([]byte{0, 96, 120, 0x20, 1, 0, 9, 9}, uint32(len(whole))) // some bodies
	f.Add([]byte(nil), uint32(len(whole)/2))
	f.Add([]byte(nil), uint32(17))
	path := filepath.Join(f.TempDir(), store.File)
	f.Fuzz(func(t *testing.T, changes []byte, size uint32) {
		b := append([]byte(nil), whole...)
		for ; len(changes) >= 4; changes = changes[4:] {
			at := int(changes[0])<<16 | int(changes[1])<<8 | int(changes[2])
			b[at%len(b)] = changes[3]
		}
		b = b[:min(int(size), len(b))]
		for _, beside := range []string{"-wal", "-shm"} {
			if err := os.Remove(path + beside); err != nil && !errors.Is(err, os.ErrNotExist) {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
		defer cancel()
		s, err := store.OpenReadOnly(ctx, path)
		if err == nil {
			rep, err := s.Verify(ctx, "bench", store.Check{})
			if ctx.Err() != nil {
				t.Fatalf("verified for half a minute: %v", err)
			}
			if err == nil && len(rep.Wrong) == 0 && rep.Entries > 5 {
				t.Errorf("whole with %d entries, five were made", rep.Entries)
			}
			_, _ = s.Load(ctx, "bench") // a fault in words, or what can be read: it must end
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
		}
		w, err := store.Open(ctx, path) // the service's own way: it may repair what can be, or refuse
		if err == nil {
			_, _ = w.Load(ctx, "bench")
			_ = w.Close() // what cannot be forced to the disk is told
		}
		if ctx.Err() != nil {
			t.Fatal("opened for half a minute")
		}
	})
}
