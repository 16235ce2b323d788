//go:build unix

package disk

import (
	"errors"
	"fmt"
	"os"
	"syscall"
)

// NoFollow has an open refuse a path whose last name is a link.
const NoFollow = syscall.O_NOFOLLOW

// SpaceOf is the room on the disk of a folder.
func SpaceOf(dir string) (Space, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return Space{}, fmt.Errorf("room in %s: %w", dir, err)
	}
	return Space{Free: int64(st.Bavail) * int64(st.Bsize), Total: int64(st.Blocks) * int64(st.Bsize)}, nil
}

// Hold takes a file for this process alone until it is closed. Wraps ErrHeld where another process has it.
func Hold(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return ErrHeld
	}
	return err
}

// SameDisk reports whether two paths are in one file system; false where that cannot be found out.
func SameDisk(a, b string) bool {
	x, _, xerr := numbers(os.Stat(a))
	y, _, yerr := numbers(os.Stat(b))
	return xerr == nil && yerr == nil && x == y
}

// FileNumbers are the device and the inode of an open file, as the system counts them.
func FileNumbers(f *os.File) (dev, inode uint64, err error) { return numbers(f.Stat()) }

func numbers(info os.FileInfo, err error) (dev, inode uint64, _ error) {
	if err != nil {
		return 0, 0, err
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0, fmt.Errorf("%s: no device number", info.Name())
	}
	return uint64(st.Dev), st.Ino, nil
}
