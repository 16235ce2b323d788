package store

import (
	"errors"
	"os"
	"syscall"
)

// forceFile forces a file's content, and its length, to the disk.
func forceFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(ignoringInterrupts(func() error { return syscall.Fdatasync(int(f.Fd())) }), f.Close())
}

func ignoringInterrupts(do func() error) error {
	for {
		if err := do(); !errors.Is(err, syscall.EINTR) {
			return err
		}
	}
}
