package service

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"thoud/store"
)

// ArchiveSuffix ends the name of a backup that holds the settings and the own profiles beside the ledger. Any other name
// is the ledger alone, as an SQLite file.
const ArchiveSuffix = ".tar.gz"

// Backup copies what a bench cannot do without to a file, while the service runs: the ledger, which is checked, and into an
// archive the settings and the own profiles and plans too. No private key is in it. A file that is there already is not written
// over; the file has its name only once it is whole.
func Backup(ctx context.Context, ledger *store.Store, dir, file string, progress func(done, total int)) error {
	if !strings.HasSuffix(file, ArchiveSuffix) {
		return ledger.Backup(ctx, file, progress)
	}
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("backup %s: %w; name another file", file, os.ErrExist)
	}
	// Beside the file, not beside the ledger: the folder is where there must be room anyway.
	tmp, err := os.MkdirTemp(filepath.Dir(file), ".thoud-backup-*")
	if err != nil {
		return fmt.Errorf("backup %s: %w", file, err)
	}
	err = func() error {
		copied := filepath.Join(tmp, LedgerName)
		if err := ledger.Backup(ctx, copied, progress); err != nil {
			return err
		}
		part := filepath.Join(tmp, "archive")
		if err := writeArchive(part, copied, dir); err != nil {
			return err
		}
		return os.Rename(part, file)
	}()
	if err = errors.Join(err, os.RemoveAll(tmp)); err != nil {
		return fmt.Errorf("backup %s: %w", file, err)
	}
	return syncFolder(filepath.Dir(file))
}

// writeArchive packs the copied ledger with the settings and the own profiles of a state folder.
func writeArchive(path, ledger, dir string) (err error) {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600) // hashes of access codes may be in it
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	z := gzip.NewWriter(f)
	t := tar.NewWriter(z)
	put := func(name, from string) error {
		src, err := os.Open(from)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		defer src.Close()
		info, err := src.Stat()
		if err != nil {
			return err
		}
		if err := t.WriteHeader(&tar.Header{Name: name, Mode: 0o600, Size: info.Size(), ModTime: info.ModTime().Truncate(time.Second), Format: tar.FormatPAX}); err != nil {
			return err
		}
		_, err = io.Copy(t, src)
		return err
	}
	if err := errors.Join(put(LedgerName, ledger), put(SettingsName, filepath.Join(dir, SettingsName)), put(HubSettingsName, filepath.Join(dir, HubSettingsName))); err != nil {
		return err
	}
	for _, folder := range []string{ProfilesFolder, PlansFolder} {
		own, err := filepath.Glob(filepath.Join(dir, folder, "*.toml"))
		if err != nil {
			return err
		}
		for _, p := range own {
			if err := put(folder+"/"+filepath.Base(p), p); err != nil {
				return err
			}
		}
	}
	return errors.Join(t.Close(), z.Close(), f.Sync())
}

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
