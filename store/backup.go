package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
)

// backupPages is how many pages are copied between two words of progress.
const backupPages = 256

// Backup copies the ledger, as it stands at this moment, to a file while it goes on being written. The copy is made
// under another name, checked, forced to the disk, and only then given its name. A file that is there already is not
// written over (os.ErrExist).
func (s *Store) Backup(ctx context.Context, file string, progress func(done, total int)) (err error) {
	file, err = filepath.Abs(file)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("backup %s: %w; name another file", file, os.ErrExist)
	}
	part := file + ".part"
	f, err := os.OpenFile(part, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o640)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("backup %s: %s is left from a backup that was cut short, or one is running; remove it if none is: %w", file, part, err)
	}
	if err != nil {
		return fmt.Errorf("backup %s: %w", file, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("backup %s: %w", file, err), os.Remove(part))
		}
	}()
	if err := f.Close(); err != nil {
		return err
	}
	if err := s.copyTo(ctx, part, progress); err != nil {
		return err
	}
	if err := standAlone(ctx, part); err != nil {
		return err
	}
	if err := checkCopy(ctx, part); err != nil {
		return err
	}
	if err := syncPath(part); err != nil {
		return err
	}
	if err := os.Rename(part, file); err != nil {
		return err
	}
	return syncPath(filepath.Dir(file))
}

// copyTo copies page by page from a read transaction: it sees one moment of the ledger, and holds no writer up.
func (s *Store) copyTo(ctx context.Context, part string, progress func(done, total int)) error {
	conn, err := s.reader.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	tx, err := conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer func() { _ = tx.Rollback() }() // only read
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n); err != nil {
		return err
	}
	// The transaction has begun: what it sees is on the disk before the copy is told as made. A copy that holds more than a
	// ledger does after a power cut would disagree with it for ever.
	if err := s.onDisk(ctx); err != nil {
		return err
	}
	return conn.Raw(func(driver any) error {
		from, ok := driver.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		})
		if !ok {
			return errors.New("the SQLite driver cannot copy a running database")
		}
		b, err := from.NewBackup(fileURI(part, "rw"))
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if more, err = b.Step(backupPages); err == nil {
				err = ctx.Err()
			}
			if err == nil && progress != nil {
				progress(b.PageCount()-b.Remaining(), b.PageCount())
			}
		}
		return errors.Join(err, b.Finish())
	})
}

// onDisk returns once what can be read now outlives a power cut. Where another process writes the ledger its log is forced
// from here: it is the same file.
func (s *Store) onDisk(ctx context.Context) error {
	if s.writer != nil {
		return s.AwaitSync(ctx)
	}
	if err := s.sync.force(s.path + walSuffix); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// standAlone takes the copy out of write-ahead mode, so that it is one file and stays one when it is looked into; opened
// as a ledger it goes back.
func standAlone(ctx context.Context, part string) error {
	db, err := sql.Open("sqlite", fileURI(part, "rw"))
	if err != nil {
		return err
	}
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode); err != nil {
		return errors.Join(err, db.Close())
	}
	if mode != "delete" {
		return errors.Join(fmt.Errorf("the copy stays in mode %q", mode), db.Close())
	}
	return db.Close()
}

// checkCopy reads the copy through once, as a file nobody else touches.
func checkCopy(ctx context.Context, part string) error {
	db, err := sql.Open("sqlite", fileURI(part, "ro")+"&immutable=1")
	if err != nil {
		return err
	}
	defer db.Close()
	var says string
	if err := db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&says); err != nil {
		return err
	}
	if says != "ok" {
		return fmt.Errorf("the copy is damaged: %s", says)
	}
	return nil
}

func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
