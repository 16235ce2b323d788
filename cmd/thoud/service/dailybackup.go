package service

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/store"
)

// Backups of the service's own making.
const (
	backupsKept = 14
	backupStale = 7 * 24 * time.Hour // a copy that is older than the work by this much is told
	backupLook  = 10 * time.Minute   // between two looks whether one is due
	// backupSource names the trouble that no fresh copy can be made, or is there.
	backupSource = "backup"
	// noteSuffix ends the name of the note beside a copy; notes are a few hundred bytes and are all kept.
	noteSuffix = "-note.txt"
)

// dailyBackup makes a checked copy after each day of work, into a folder that is best on another disk.
type dailyBackup struct {
	ledger   *store.Store
	name     string // in the names of the copies
	dir      string // the state folder
	folder   string
	settings string // the file that names the folder
	now      func() time.Time
	lines    func(context.Context) ([]string, error) // whose work is in the ledger
	note     func(context.Context) string            // signs where the ledger ends
	notice   func(bench.Notice)
	log      zerolog.Logger
}

// run looks again and again until ctx ends.
func (d dailyBackup) run(ctx context.Context) {
	for {
		d.look(ctx)
		select {
		case <-ctx.Done():
			return
		case <-time.After(backupLook):
		}
	}
}

// look makes the copy that is due, lets the oldest go, and tells of a copy that is too old.
func (d dailyBackup) look(ctx context.Context) {
	err := d.make(ctx)
	if ctx.Err() != nil {
		return
	}
	n := bench.Notice{At: d.now().UnixMicro(), Source: backupSource}
	last, worked := d.newest(), d.lastWork(ctx)
	switch {
	case err != nil:
		n.Stands, n.Words = true, fmt.Sprintf("no backup was made: %v. It is tried again; the work goes on", err)
		d.log.Error().Err(err).Msg("no backup was made")
	case !worked.IsZero() && worked.Sub(last) > backupStale && d.now().Sub(worked) > backupStale/7:
		n.Stands, n.Words = true, fmt.Sprintf("the newest backup in %s is more than seven days older than the work: is the folder the right one?", d.folder)
	}
	d.notice(n)
}

func (d dailyBackup) prefix() string { return "thoud-" + d.name + "-" }

// make copies the ledger for the last day of work that is over and has no copy yet.
func (d dailyBackup) make(ctx context.Context) error {
	worked := d.lastWork(ctx)
	if worked.IsZero() {
		return nil
	}
	day := worked.Local().Format(time.DateOnly)
	if day >= d.now().Local().Format(time.DateOnly) {
		return nil // the day is not over
	}
	if info, err := os.Stat(d.folder); err != nil {
		return fmt.Errorf("the folder %s is not there (backup in %s): is the disk mounted?", d.folder, d.settings)
	} else if !info.IsDir() {
		return fmt.Errorf("%s is no folder (backup in %s)", d.folder, d.settings)
	}
	file := filepath.Join(d.folder, d.prefix()+day+ArchiveSuffix)
	if _, err := os.Stat(file); err == nil {
		return nil
	}
	if err := Backup(ctx, d.ledger, d.dir, file, nil); err != nil {
		return err
	}
	d.log.Info().Str("file", file).Msg("backup made and checked")
	// Beside the copy on the other disk a note is a witness against whoever changes the ledger here.
	if text := d.note(ctx); text != "" {
		if err := os.WriteFile(strings.TrimSuffix(file, ArchiveSuffix)+noteSuffix, []byte(text), 0o640); err != nil {
			return fmt.Errorf("note beside the backup: %w", err)
		}
	}
	return d.letGo()
}

// letGo removes the oldest of the bench's own copies beyond those kept.
func (d dailyBackup) letGo() error {
	own := d.own()
	for len(own) > backupsKept {
		if err := os.Remove(filepath.Join(d.folder, own[0])); err != nil {
			return err
		}
		own = own[1:]
	}
	return nil
}

// own lists the names of the copies that this bench's service made, oldest first.
func (d dailyBackup) own() []string {
	entries, err := os.ReadDir(d.folder)
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		day, ok := strings.CutPrefix(strings.TrimSuffix(e.Name(), ArchiveSuffix), d.prefix())
		if _, err := time.Parse(time.DateOnly, day); ok && err == nil && strings.HasSuffix(e.Name(), ArchiveSuffix) {
			out = append(out, e.Name())
		}
	}
	slices.Sort(out)
	return out
}

// newest is the day of the newest copy; zero where there is none.
func (d dailyBackup) newest() time.Time {
	own := d.own()
	if len(own) == 0 {
		return time.Time{}
	}
	day := strings.TrimSuffix(strings.TrimPrefix(own[len(own)-1], d.prefix()), ArchiveSuffix)
	t, err := time.ParseInLocation(time.DateOnly, day, time.Local)
	if err != nil {
		return time.Time{}
	}
	return t
}

// lastWork is when the last entry was made; zero where there is none.
func (d dailyBackup) lastWork(ctx context.Context) time.Time {
	var last time.Time
	lines, err := d.lines(ctx)
	for i := 0; i < len(lines) && err == nil; i++ {
		err = d.ledger.EachEntry(ctx, lines[i], store.Filter{Limit: 1}, func(r store.EntryRow) bool {
			if at := time.UnixMicro(r.Entry.At); at.After(last) {
				last = at
			}
			return false
		})
	}
	if err != nil {
		return time.Time{}
	}
	return last
}

// ownLine is the line of a ledger that is one bench's.
func ownLine(benchName string) func(context.Context) ([]string, error) {
	return func(context.Context) ([]string, error) { return []string{benchName}, nil }
}
