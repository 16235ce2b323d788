package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// A ledger that no service uses, in a folder that this user may not write in: SQLite would make its two companions there
// even to read, and cannot. Nobody in the group thoud could look at yesterday's build with the service stopped, nor anybody
// at a copy on a stick that is mounted for reading. Such a ledger is whole in its one file, because whoever wrote last put
// everything into it and removed the companions. It is read as a file that does not change, and when it is closed again,
// whether a service began meanwhile: then what was read is worth nothing, and that is said.

// errBegan means that a service began to write while the ledger was read as one at rest.
var errBegan = errors.New("the service began while the ledger was read: ask again")

// openReader opens the connections that read.
func (s *Store) openReader(ctx context.Context) error {
	err := s.readWith(ctx, s.dsn("ro"))
	var e *sqlite.Error
	if s.writer != nil || !errors.As(err, &e) {
		return err
	}
	if code := e.Code() & 0xff; code != sqlite3.SQLITE_READONLY && code != sqlite3.SQLITE_CANTOPEN {
		return err
	}
	if s.companion() {
		return fmt.Errorf("the service was cut off and left %s-wal, which only its own user can put in order: start it, or ask as that user (%w)", s.path, err)
	}
	if bad := errors.Join(s.reader.Close(), s.readWith(ctx, s.dsn("ro")+"&immutable=1")); bad != nil {
		return err // this user may not read it either way
	}
	s.resting = true
	return nil
}

func (s *Store) readWith(ctx context.Context, dsn string) error {
	var err error
	if s.reader, err = sql.Open("sqlite", dsn); err != nil {
		return err
	}
	s.reader.SetMaxOpenConns(readers)
	return s.readBack(ctx, s.reader, false)
}

// companion reports whether something that was written is not in the ledger's own file yet.
func (s *Store) companion() bool {
	info, err := os.Stat(s.path + "-wal")
	return err == nil && info.Size() > 0
}

// rested tells, at the end, whether a ledger that was read as one at rest was at rest all the time.
func (s *Store) rested() error {
	if s.resting && s.companion() {
		return errBegan
	}
	return nil
}
