package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"thoud/capture/bench"
	"thoud/store"
)

// A full disk is known as such, nothing of the entry is stored, and with room again the same entry goes in.
func TestAFullDiskAndRoomAgain(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=2m"); err != nil {
		t.Logf("not run: no file system of limited size can be mounted here (%v)", err)
		return
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	ctx := context.Background()
	path := filepath.Join(dir, store.File)
	s, err := store.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	h := &hand{tb: t}
	for _, m := range h.opening() {
		m.record(t, s)
	}
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 512<<10), 0o600); err != nil {
		t.Fatal(err)
	}
	var held message
	var full error
	for i := 0; full == nil; i++ {
		if i > 5000 {
			t.Fatal("the disk never filled")
		}
		held = h.make(bench.Entry{Kind: bench.Photo, Place: bench.Place{Build: "17"}, Picture: &bench.Picture{Type: "image/jpeg", Bytes: make([]byte, 20<<10), Note: fmt.Sprint(i)}})
		full = s.Record(ctx, benchName, held.entry, held.body, held.seal, nil, held.cp)
	}
	if !errors.Is(full, store.ErrFull) || !strings.Contains(full.Error(), path) {
		t.Fatalf("on a full disk: %v, want ErrFull with the path", full)
	}
	if has, err := s.Has(ctx, benchName, held.entry.ID); err != nil || has {
		t.Errorf("the entry that did not fit: there %v, %v", has, err)
	}
	if err := s.Record(ctx, benchName, held.entry, held.body, held.seal, nil, held.cp); !errors.Is(err, store.ErrFull) {
		t.Errorf("again, still full: %v, want ErrFull", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	held.record(t, s)
	rep, err := s.Verify(ctx, benchName, nil)
	if err != nil || len(rep.Wrong) > 0 || rep.Entries != int(held.entry.N) {
		t.Errorf("after there was room: %d entries of %d, wrong %v, %v", rep.Entries, held.entry.N, rep.Wrong, err)
	}
}
