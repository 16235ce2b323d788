package service

import (
	"context"
	"fmt"
	"os"
	"time"

	"thoud/store"
	"thoud/store/disk"
)

// BackupLook says whether a ledger would outlive its disk: whether a folder for backups is set, lies on another disk, and
// has a copy that is younger than seven days of work. want says what to do where it would not.
func BackupLook(ctx context.Context, ledger *store.Store, benchName, dir string, set Settings, now time.Time) (words, want string) {
	return dailyBackup{ledger: ledger, name: benchName, lines: ownLine(benchName), dir: dir, folder: set.Backup, settings: SettingsName, now: func() time.Time { return now }}.lookAt(ctx)
}

// HubBackupLook is BackupLook for a hub's ledger.
func HubBackupLook(ctx context.Context, ledger *store.Store, dir string, set HubSettings, now time.Time) (words, want string) {
	d := (&Hub{Dir: dir, Settings: set}).daily(ledger, &hubTrouble{})
	d.now = func() time.Time { return now }
	return d.lookAt(ctx)
}

// lookAt says whether there is a copy that outlives the disk.
func (d dailyBackup) lookAt(ctx context.Context) (words, want string) {
	now := d.now()
	worked := d.lastWork(ctx)
	example := fmt.Sprintf("in %s: backup = \"/media/second-disk/thoud\"; by hand: thoud backup FILE", d.settings)
	switch {
	case worked.IsZero():
		return "nothing was recorded yet", ""
	case d.folder == "":
		return "no folder for backups is set: if this disk fails, everything that was measured is gone", example
	}
	if info, err := os.Stat(d.folder); err != nil || !info.IsDir() {
		return "the folder " + d.folder + " is not there", "mount its disk, or name another folder, " + example
	}
	last := d.newest()
	switch {
	case last.IsZero():
		return "there is no copy in " + d.folder + " yet; the service makes one after each day of work", "thoud backup FILE makes one now"
	case now.Sub(last) > backupStale && worked.Sub(last) > 24*time.Hour:
		return fmt.Sprintf("the newest copy in %s is of %s, %d days ago, and work went on since", d.folder, last.Format(time.DateOnly), int(now.Sub(last).Hours()/24)),
			"is the service running, and is that the folder of the other disk? thoud backup FILE makes one now"
	case disk.SameDisk(d.dir, d.folder):
		return d.folder + " is on the same disk as the ledger: both would go together", "name a folder on another disk, " + example
	}
	return fmt.Sprintf("the newest copy in %s is of %s", d.folder, last.Format(time.DateOnly)), ""
}
