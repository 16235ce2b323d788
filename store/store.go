// Package store keeps the ledger in one SQLite file. The tables entry and quarantine are the truth; readings, results,
// the checkpoint and what is kept of builds for pages that show many are projections of it. Settings come by the data
// source name and are read back at start; one connection writes, a pool of read-only ones answers. It refuses an entry
// that does not follow the ledger, a file that is no ledger, and one of a newer form.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	"thoud/capture/bench"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// File is the ledger's name in a state folder.
const File = "ledger.db"

// busyTimeout is how long a connection waits for another's lock, in ms: longer than any transaction here takes.
const busyTimeout = 5000

// readers is how many queries run side by side.
const readers = 4

// Errors callers branch on.
var (
	ErrNoLedger = errors.New("no ledger there")
	ErrKnown    = errors.New("is in the ledger already")
	ErrReadOnly = errors.New("opened for reading only")
)

// Store is an open ledger. It is safe for concurrent use.
type Store struct {
	Now func() time.Time // the clock of quarantined messages
	// Progress hears how far a long start is; it may be nil.
	Progress Progress

	path   string
	writer *sql.DB // nil where the ledger was opened for reading only
	reader *sql.DB
	back   *sql.DB // writes the log back into the file, beside the writer; nil like it
	// resting: no service uses it and this user may not write beside it, see resting.go.
	resting bool

	gists   bool       // the tables of what builds found are there
	reckons sync.Mutex // held by the look that reckons up what is not kept

	prepared map[string]*sql.Stmt // on the writer, by text
	fold     bench.Fold

	mu    sync.Mutex
	named bool // the bench's name is in meta
	told  map[string]counted
	sync  syncing
}

// Progress hears how much of how much is done of something long, and what that is.
type Progress func(what string, done, total int)

// Option sets up a ledger before it is opened.
type Option func(*Store)

// Telling says who hears how far a long start is.
func Telling(p Progress) Option { return func(s *Store) { s.Progress = p } }

// Open opens a ledger for writing and makes it where there is none. It brings an older form up to date.
func Open(ctx context.Context, path string, options ...Option) (*Store, error) {
	s, err := open(path)
	if err != nil {
		return nil, err
	}
	for _, set := range options {
		set(s)
	}
	if err := s.known(ctx); err != nil {
		return nil, s.fault(err)
	}
	if s.writer, err = sql.Open("sqlite", s.dsn("rwc")); err != nil {
		return nil, s.fault(err)
	}
	s.writer.SetMaxOpenConns(1)
	if s.back, err = sql.Open("sqlite", s.dsn("rw")); err != nil {
		return nil, errors.Join(s.fault(err), s.Close())
	}
	s.back.SetMaxOpenConns(1)
	err = errors.Join(ownFile(s.path), s.readBack(ctx, s.writer, true))
	if err == nil {
		err = s.migrate(ctx)
	}
	if err == nil {
		err = s.makeGists(ctx)
	}
	if err == nil {
		err = s.mergeInTheQuiet(ctx)
	}
	if err == nil {
		err = s.prepare(ctx)
	}
	if err == nil {
		err = s.openReader(ctx)
	}
	if err == nil {
		err = s.startSyncing(ctx)
	}
	if err != nil {
		return nil, errors.Join(s.fault(err), s.Close())
	}
	return s, nil
}

// OpenReadOnly opens a ledger beside a running service, or without one. Wraps ErrNoLedger where there is none.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	s, err := open(path)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(s.path); err != nil {
		if errors.Is(err, os.ErrNotExist) {
			err = fmt.Errorf("%w; is this the state folder, and has the service run here?", ErrNoLedger)
		}
		return nil, s.fault(err)
	}
	if err := s.openReader(ctx); err != nil {
		return nil, errors.Join(s.fault(err), s.Close())
	}
	if err := s.checkForm(ctx, s.reader); err != nil {
		return nil, errors.Join(s.fault(err), s.Close())
	}
	if err := s.findGists(ctx); err != nil {
		return nil, errors.Join(s.fault(err), s.Close())
	}
	return s, nil
}

func open(path string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("ledger %s: %w", path, err)
	}
	return &Store{Now: time.Now, path: abs, fold: bench.Fold{Plans: &bench.Plans{}}, sync: syncing{force: forceFile}}, nil
}

// known refuses a file of another program or of a newer form before anything is written to it: a writer's first
// connection already changes the file's head, to set the journal mode.
func (s *Store) known(ctx context.Context) (err error) {
	if info, err := os.Stat(s.path); err != nil || info.Size() == 0 {
		return nil // a new ledger; what is wrong with the path is said by the writer
	}
	db, err := sql.Open("sqlite", s.dsn("ro"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	_, err = s.form(ctx, db)
	return err
}

// ownFile makes the file, where there is none, readable by its owner and group alone; its companions take after it. It is
// opened here and never again beside SQLite: closing it a second time would give up the locks that SQLite holds on it.
func ownFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o640)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// dsn says all settings at once: a PRAGMA run later would meet one connection of a pool and not the others.
func (s *Store) dsn(mode string) string {
	q := url.Values{}
	q.Set("_txlock", "immediate")
	q.Add("_pragma", fmt.Sprintf("busy_timeout(%d)", busyTimeout))
	q.Add("_pragma", "foreign_keys(1)")
	q.Add("_pragma", "synchronous(NORMAL)")
	if mode == "ro" {
		q.Set("_txlock", "deferred")
		q.Add("_pragma", "query_only(1)")
	} else {
		q.Add("_pragma", "journal_mode(WAL)")
		q.Add("_pragma", fmt.Sprintf("wal_autocheckpoint(%d)", longestLog))
	}
	return fileURI(s.path, mode) + "&" + q.Encode()
}

// fileURI names a file to SQLite, whatever signs stand in its path.
func fileURI(path, mode string) string {
	path = filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" {
		path = "/" + path // a drive's letter comes after a slash
	}
	return (&url.URL{Scheme: "file", Path: path, RawQuery: "mode=" + mode}).String()
}

// readBack asks what the settings are: a setting that was not taken loses readings on a power cut.
func (s *Store) readBack(ctx context.Context, db *sql.DB, write bool) error {
	want := []struct{ name, value string }{
		{"busy_timeout", fmt.Sprint(busyTimeout)},
		{"foreign_keys", "1"},
		{"synchronous", "1"}, // a commit waits for no sync: see syncing
	}
	if write {
		want = append(want, struct{ name, value string }{"journal_mode", "wal"})
	}
	for _, w := range want {
		var got string
		if err := db.QueryRowContext(ctx, "PRAGMA "+w.name).Scan(&got); err != nil {
			return err
		}
		if got != w.value {
			return fmt.Errorf("%s is %q, want %q: this file system cannot hold a ledger; put the state folder on a local disk", w.name, got, w.value)
		}
	}
	return nil
}

// Close forces the ledger to the disk and closes it.
func (s *Store) Close() error {
	errs := []error{s.fault(s.stopSyncing()), s.fault(s.rested())}
	for _, db := range []*sql.DB{s.back, s.reader, s.writer} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return errors.Join(errs...)
}

// Fold is how this ledger's entries are folded: plan texts that were parsed before are not parsed again.
func (s *Store) Fold() bench.Fold { return s.fold }

// Path is the ledger's file.
func (s *Store) Path() string { return s.path }

// Bench gives the name of the bench whose ledger this is; "" where nothing was recorded yet.
func (s *Store) Bench(ctx context.Context) (string, error) {
	var name string
	err := s.reader.QueryRowContext(ctx, "SELECT value FROM meta WHERE name = 'bench'").Scan(&name)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return "", s.fault(err)
	}
	return name, nil
}
