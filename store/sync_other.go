//go:build !linux

package store

import (
	"errors"
	"os"
)

// forceFile forces a file's content, and its length, to the disk.
func forceFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
