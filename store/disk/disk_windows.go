package disk

import (
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/windows"
)

// NoFollow does nothing here: a link needs rights that whoever could plant one does not have.
const NoFollow = 0

// SpaceOf is the room on the disk of a folder.
func SpaceOf(dir string) (Space, error) {
	p, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return Space{}, fmt.Errorf("room in %s: %w", dir, err)
	}
	var free, total uint64
	if err := windows.GetDiskFreeSpaceEx(p, &free, &total, nil); err != nil {
		return Space{}, fmt.Errorf("room in %s: %w", dir, err)
	}
	return Space{Free: int64(free), Total: int64(total)}, nil
}

// Hold takes a file for this process alone until it is closed: a byte far behind its end, so that others can still read
// who has it. Wraps ErrHeld where another process has it.
func Hold(f *os.File) error {
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, &windows.Overlapped{OffsetHigh: 1})
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return ErrHeld
	}
	return err
}

// SameDisk is not found out here: the service that asks does not run on Windows.
func SameDisk(string, string) bool { return false }

// FileNumbers are not asked for here.
func FileNumbers(*os.File) (dev, inode uint64, err error) {
	return 0, 0, errors.New("files are not numbered so on Windows")
}
