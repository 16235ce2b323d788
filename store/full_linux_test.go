package store_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"thoud/capture/bench"
	"thoud/store"
)

// smallDisk mounts a file system of limited size; false, with a word in the log, where that is not allowed.
func smallDisk(t *testing.T, size string) (string, bool) {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Logf("not run: no file system of limited size can be mounted here (%v)", err)
		return "", false
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir, true
}

// A disk may be full at any stage of opening a new ledger, its index included, where SQLite speaks of an error of input
// and output only. It is known for what it is, and with room the same file opens.
func TestOpeningOnAFullDisk(t *testing.T) {
	dir, ok := smallDisk(t, "1m")
	if !ok {
		return
	}
	path, ballast := filepath.Join(dir, store.File), filepath.Join(dir, "ballast")
	for _, free := range []int{0, 4 << 10, 32 << 10, 64 << 10, 100 << 10} {
		if err := os.WriteFile(ballast, make([]byte, 1<<20-free), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := store.Open(context.Background(), path); !errors.Is(err, store.ErrFull) {
			t.Errorf("%d bytes free: %v, want ErrFull", free, err)
		}
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
		s, err := store.Open(context.Background(), path)
		if err != nil {
			t.Fatalf("with room again, after %d bytes: %v", free, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
}

// A full disk is known as such, nothing of the entry is stored, and with room again the same entry goes in.
func TestAFullDiskAndRoomAgain(t *testing.T) {
	dir, ok := smallDisk(t, "2m")
	if !ok {
		return
	}
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
	rep, err := s.Verify(ctx, benchName, store.Check{})
	if err != nil || len(slices.DeleteFunc(rep.Wrong, unnamed)) > 0 || rep.Entries != int(held.entry.N) {
		t.Errorf("after there was room: %d entries of %d, wrong %v, %v", rep.Entries, held.entry.N, rep.Wrong, err)
	}
}
