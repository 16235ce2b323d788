package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"slices"
)

//go:embed migrations/*.sql
var migrations embed.FS

// applicationID marks an SQLite file as a ledger: "thou" in ASCII.
const applicationID = 0x74686f75

// forms lists the migrations in order; the n-th brings a ledger to form n.
func forms() ([]string, error) {
	names, err := fs.Glob(migrations, "migrations/*.sql")
	slices.Sort(names)
	return names, err
}

// afterForm is what a migration does beside its SQL, by the form it brings. Progress hears how far it is.
var afterForm = map[int]func(ctx context.Context, tx writing, progress Progress) error{2: toParts, 3: toBenches}

// migrate brings the file to the newest form, each step in a transaction of its own.
func (s *Store) migrate(ctx context.Context) error {
	names, err := forms()
	if err != nil {
		return err
	}
	form, err := s.form(ctx, s.writer)
	if err != nil {
		return err
	}
	for i := form; i < len(names); i++ {
		text, err := migrations.ReadFile(names[i])
		if err != nil {
			return err
		}
		err = s.inTx(ctx, func(ctx context.Context, tx writing) error {
			if _, err := tx.ExecContext(ctx, string(text)); err != nil {
				return err
			}
			if after := afterForm[i+1]; after != nil {
				if err := after(ctx, tx, s.Progress); err != nil {
					return err
				}
			}
			_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", i+1))
			return err
		})
		if err != nil {
			return fmt.Errorf("%s: %w", names[i], err)
		}
	}
	return nil
}

// form is the file's form; 0 for a new one. It fails on a file that is no ledger and on one of a newer form.
func (s *Store) form(ctx context.Context, db *sql.DB) (int, error) {
	var app, form, tables int
	for _, q := range []struct {
		text string
		into *int
	}{
		{"PRAGMA application_id", &app}, {"PRAGMA user_version", &form}, {"SELECT count(*) FROM sqlite_schema", &tables},
	} {
		if err := db.QueryRowContext(ctx, q.text).Scan(q.into); err != nil {
			return 0, err
		}
	}
	if tables > 0 && app != applicationID {
		return 0, fmt.Errorf("a database of another program; name another file")
	}
	names, err := forms()
	if err != nil {
		return 0, err
	}
	if form > len(names) {
		return 0, fmt.Errorf("form %d, this build knows up to %d; use the newer build that wrote it", form, len(names))
	}
	return form, nil
}

// checkForm is for readers, which bring nothing up to date.
func (s *Store) checkForm(ctx context.Context, db *sql.DB) error {
	form, err := s.form(ctx, db)
	if err != nil {
		return err
	}
	if names, err := forms(); err != nil || form < len(names) {
		return fmt.Errorf("form %d, this build reads form %d; start the service once to bring it up to date", form, len(names))
	}
	return nil
}

// inTx runs fn in one transaction of the writer. Once begun it is not cancelled: it is short, and a connection that is
// interrupted in the middle is thrown away by the driver with the log not written back. fn gets the context to use.
func (s *Store) inTx(ctx context.Context, fn func(context.Context, writing) error) error {
	if s.writer == nil {
		return ErrReadOnly
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx)
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	if err := fn(ctx, writing{tx, s.prepared}); err != nil {
		_ = tx.Rollback() // the first error is the one to tell; a rollback that fails leaves nothing stored either
		return err
	}
	return tx.Commit()
}
