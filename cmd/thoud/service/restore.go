package service

import (
	"archive/tar"
	"bufio"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"thoud/store"
)

// Errors of restoring that callers branch on.
var (
	// ErrStream means that the state folder has a stream whose entries may be newer than the backup.
	ErrStream = errors.New("the state folder has a stream, which may hold entries that are newer than the backup")
	// ErrNotWhole means that the backup does not verify.
	ErrNotWhole = errors.New("the backup is not whole")
)

// Restore puts a backup into a state folder. Set the fields, then Run it.
type Restore struct {
	Dir  string // the state folder; no service may be using it
	From string // the backup: an archive, or the ledger alone
	// KeepStream leaves the stream where it is: at the next start what it holds beyond the backup follows it in the ledger.
	// DropStream sets it aside: the bench goes on from the backup.
	KeepStream, DropStream bool
	Now                    func() time.Time
	Progress               func(done, total int)
}

// Restored says what was put where.
type Restored struct {
	Bench   string   `json:"bench"`
	Entries int      `json:"entries"`
	Seal    string   `json:"seal"`            // of the last entry
	Put     []string `json:"put"`             // files, by their names in the state folder
	Hub     bool     `json:"hub,omitempty"`   // it is a hub's: Bench names all that are in it, Seal is the last one's
	Aside   string   `json:"aside,omitempty"` // the folder to which what was there before went
}

// Run checks the backup, sets aside what is in the state folder, and puts the backup there. Nothing is deleted: what was
// there is in a folder of its own, named by the time. Errors wrap ErrLocked, ErrStream and ErrNotWhole where they apply,
// and nothing was changed then.
func (r Restore) Run(ctx context.Context) (done Restored, err error) {
	lock, err := Lock(r.Dir)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	if _, err := os.Stat(filepath.Join(r.Dir, BusFolder)); err == nil && !r.KeepStream && !r.DropStream {
		return done, fmt.Errorf("state folder %s: %w: say --keep-stream (they follow the backup at the next start) or --drop-stream (the bench goes on from the backup; the stream is set aside)", r.Dir, ErrStream)
	}
	tmp, err := os.MkdirTemp(r.Dir, ".restore-*")
	if err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(tmp)) }()
	if err := unpack(r.From, tmp); err != nil {
		return done, fmt.Errorf("restore %s: %w", r.From, err)
	}
	if done, err = r.check(ctx, filepath.Join(tmp, LedgerName)); err != nil {
		return done, fmt.Errorf("restore %s: %w", r.From, err)
	}
	if done.Aside, err = r.setAside(tmp); err != nil {
		return done, fmt.Errorf("restore: %w", err)
	}
	for _, name := range []string{LedgerName, SettingsName, HubSettingsName, ProfilesFolder, PlansFolder} {
		from := filepath.Join(tmp, name)
		if _, err := os.Stat(from); err != nil {
			continue
		}
		if err := os.Rename(from, filepath.Join(r.Dir, name)); err != nil {
			return done, fmt.Errorf("restore: %w; what was there is in %s", err, done.Aside)
		}
		done.Put = append(done.Put, name)
	}
	return done, syncFolder(r.Dir)
}

// check opens the copy for writing, which brings an older form up to date, and verifies it.
func (r Restore) check(ctx context.Context, path string) (done Restored, err error) {
	s, err := store.Open(ctx, path)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if done.Bench, err = s.Bench(ctx); err != nil {
		return done, err
	}
	names := []string{done.Bench}
	if done.Bench == "" { // a hub's
		if names, err = lineNames(s)(ctx); err != nil {
			return done, err
		}
		done.Bench, done.Hub = strings.Join(names, ", "), true
	}
	if len(names) == 0 {
		return done, errors.New("not a backup: nothing was ever recorded in it")
	}
	with := Check()
	with.Progress = r.Progress
	for _, name := range names {
		rep, err := VerifyHistory(ctx, s, name, with)
		if err != nil {
			return done, err
		}
		if len(rep.Wrong) > 0 {
			return done, fmt.Errorf("%w: %s: %s (thoud verify lists all %d)", ErrNotWhole, rep.Wrong[0].Row, rep.Wrong[0].What, len(rep.Wrong))
		}
		own, err := s.Count(ctx, name) // what a history shares is counted with the one it shares it with
		if err != nil {
			return done, err
		}
		done.Entries, done.Seal = done.Entries+own.Entries, rep.Seal
	}
	return done, nil
}

// setAside moves what the backup replaces, and what belongs to it, into a folder of its own; "" where there was nothing.
func (r Restore) setAside(tmp string) (string, error) {
	names := []string{LedgerName, LedgerName + "-wal", LedgerName + "-shm", strings.TrimSuffix(LedgerName, ".db") + ".snapshot"}
	for _, name := range []string{SettingsName, HubSettingsName, ProfilesFolder, PlansFolder} {
		if _, err := os.Stat(filepath.Join(tmp, name)); err == nil {
			names = append(names, name)
		}
	}
	if r.DropStream {
		names = append(names, BusFolder)
	}
	aside := filepath.Join(r.Dir, "before-restore-"+r.Now().Format("2006-01-02-150405"))
	moved := false
	for _, name := range names {
		from := filepath.Join(r.Dir, name)
		if _, err := os.Lstat(from); err != nil {
			continue
		}
		if err := os.MkdirAll(aside, 0o750); err != nil {
			return "", err
		}
		if err := os.Rename(from, filepath.Join(aside, name)); err != nil {
			return "", err
		}
		moved = true
	}
	if !moved {
		return "", nil
	}
	return aside, nil
}

// mostUnpacked bounds what an archive may unpack to: a damaged or foreign one must not fill the disk.
const mostUnpacked = 64 << 30

// unpack takes a backup apart into a folder: an archive's known files, or the ledger alone.
func unpack(from, into string) (err error) {
	f, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	b := bufio.NewReader(f)
	if head, err := b.Peek(2); err != nil || head[0] != 0x1f || head[1] != 0x8b { // gzip, RFC 1952
		return unpackTo(filepath.Join(into, LedgerName), b)
	}
	z, err := gzip.NewReader(b)
	if err != nil {
		return fmt.Errorf("not a backup: %w", err)
	}
	t := tar.NewReader(io.LimitReader(z, mostUnpacked))
	ledger := false
	for {
		h, err := t.Next()
		if errors.Is(err, io.EOF) {
			if !ledger {
				return fmt.Errorf("not a backup: there is no %s in it", LedgerName)
			}
			return nil
		}
		if err != nil {
			return fmt.Errorf("not a whole backup: %w", err)
		}
		name := h.Name
		switch {
		case name == LedgerName:
			ledger = true
		case name == SettingsName, name == HubSettingsName:
		case (path.Dir(name) == ProfilesFolder || path.Dir(name) == PlansFolder) && path.Ext(name) == ".toml" && path.Base(name) != ".toml":
			if err := os.MkdirAll(filepath.Join(into, path.Dir(name)), 0o750); err != nil {
				return err
			}
		default:
			return fmt.Errorf("not a backup: %q does not belong into one", name)
		}
		if err := unpackTo(filepath.Join(into, filepath.FromSlash(name)), t); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
}

func unpackTo(path string, r io.Reader) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, r)
	return errors.Join(err, f.Sync(), f.Close())
}
