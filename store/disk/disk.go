// Package disk is what the systems do each in their own way with a disk and its files, and more than one package here needs:
// how much room there is, a file held by one process alone, whether two folders lie on one disk. A bench runs on Linux, and
// on macOS for trying it out; on Windows everything that needs no bench does. Calls of one system alone stay with the
// package that makes them.
package disk

import (
	"errors"
	"path/filepath"
)

// ErrHeld means that another process holds the file.
var ErrHeld = errors.New("held by another process")

// Space is the room on the disk of a folder, in bytes: free for an ordinary user, and in all.
type Space struct{ Free, Total int64 }

// NearestSpace is the room on the disk of a folder that need not be there yet: of its nearest parent that is.
func NearestSpace(dir string) (Space, error) {
	s, err := SpaceOf(dir)
	for err != nil && filepath.Dir(dir) != dir {
		dir = filepath.Dir(dir)
		s, err = SpaceOf(dir)
	}
	return s, err
}
