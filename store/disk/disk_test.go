package disk_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"thoud/store/disk"
)

// The room of a folder that is not there yet is that of the disk it would be on.
func TestSpace(t *testing.T) {
	dir := t.TempDir()
	here, err := disk.SpaceOf(dir)
	if err != nil || here.Free <= 0 || here.Total < here.Free {
		t.Fatalf("%+v, %v", here, err)
	}
	missing := filepath.Join(dir, "not", "yet")
	if _, err := disk.SpaceOf(missing); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a folder that is not there: %v", err)
	}
	if near, err := disk.NearestSpace(missing); err != nil || near.Total != here.Total {
		t.Errorf("%+v, %v; want the disk of %+v", near, err, here)
	}
}

// A file is held by one alone, and free again when it is closed.
func TestHold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "lock")
	open := func() *os.File {
		t.Helper()
		f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	first, second := open(), open()
	if err := disk.Hold(first); err != nil {
		t.Fatal(err)
	}
	if err := disk.Hold(second); !errors.Is(err, disk.ErrHeld) {
		t.Errorf("held twice: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	if err := disk.Hold(second); err != nil {
		t.Errorf("after it was closed: %v", err)
	}
}

func TestSameDisk(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	if !disk.SameDisk(a, b) || disk.SameDisk(a, filepath.Join(b, "gone")) {
		t.Error("two folders of one disk, or one that is not there")
	}
}
