package store

import (
	"errors"
	"fmt"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"thoud/store/disk"
)

// ErrFull marks a write that failed because the disk is full. Nothing of it was stored; it may be tried again.
var ErrFull = errors.New("the disk is full")

// DamagedError is a ledger whose file cannot be read as one any more.
type DamagedError struct {
	Path string
	What string // it is
	Do   string // what to do at a bench; who keeps it as something else says otherwise
	Err  error
}

func (e *DamagedError) Error() string {
	return fmt.Sprintf("ledger %s: %s; %s (%v)", e.Path, e.What, e.Do, e.Err)
}

func (e *DamagedError) Unwrap() error { return e.Err }

// fullBelow is the free space, in bytes, under which an input/output error is taken for a full disk: SQLite grows its
// write-ahead index by 32 KiB at a time and reports a failure of that as an error of input and output.
const fullBelow = 256 << 10

// fault says which ledger an error belongs to, and recognises what a person can do something about.
func (s *Store) fault(err error) error {
	if err == nil {
		return nil
	}
	var e *sqlite.Error
	if errors.As(err, &e) {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return fmt.Errorf("ledger %s: %w; make room for it (%w)", s.path, ErrFull, err)
		case sqlite3.SQLITE_IOERR:
			if free, ok := freeSpace(filepath.Dir(s.path)); ok && free < fullBelow {
				return fmt.Errorf("ledger %s: %w; make room for it (%w)", s.path, ErrFull, err)
			}
		case sqlite3.SQLITE_CANTOPEN:
			return fmt.Errorf("ledger %s: cannot be opened; may this user write in its folder? (%w)", s.path, err)
		case sqlite3.SQLITE_NOTADB:
			return &DamagedError{s.path, "is no ledger, or damaged", "put a backup in its place", err}
		case sqlite3.SQLITE_CORRUPT:
			return &DamagedError{s.path, "is damaged", "keep the file, put a backup in its place, what the stream still holds is recorded again", err}
		}
	}
	return fmt.Errorf("ledger %s: %w", s.path, err)
}

// freeSpace is what an ordinary user may still write in a folder, in bytes.
func freeSpace(dir string) (int64, bool) {
	space, err := disk.SpaceOf(dir)
	return space.Free, err == nil
}
