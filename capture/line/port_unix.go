//go:build unix

package line

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/unix"
)

func lockDevice(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NONBLOCK|syscall.O_NOCTTY, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		return nil, fmt.Errorf("lock: %w", ErrInUse)
	}
	return f, nil
}

// deviceIdentity tells one plugging-in from the next: for a USB adapter the device number the kernel gave it, for a
// pseudo-terminal its device number, inode and change time.
func deviceIdentity(real string, f *os.File) string {
	if dev, err := filepath.EvalSymlinks(filepath.Join("/sys/class/tty", filepath.Base(real), "device")); err == nil {
		for dir := dev; len(dir) > len("/sys/devices"); dir = filepath.Dir(dir) {
			if n, err := os.ReadFile(filepath.Join(dir, "devnum")); err == nil {
				return fmt.Sprintf("usb:%s:%s", filepath.Base(dir), trim(n))
			}
		}
	}
	var st unix.Stat_t
	if err := unix.Fstat(int(f.Fd()), &st); err != nil {
		return "node:" + real
	}
	return fmt.Sprintf("node:%d:%d:%d.%09d", st.Rdev, st.Ino, st.Ctim.Sec, st.Ctim.Nsec)
}

func trim(b []byte) string {
	for len(b) > 0 && (b[len(b)-1] == '\n' || b[len(b)-1] == ' ') {
		b = b[:len(b)-1]
	}
	return string(b)
}

// LimitDescriptors lowers the soft limit of open files to 1024: the serial package waits with select(2), which cannot
// hold a higher descriptor. Call it before any port is opened.
func LimitDescriptors() error {
	var lim unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &lim); err != nil {
		return fmt.Errorf("limit of open files: %w", err)
	}
	if lim.Cur > 1024 {
		lim.Cur = 1024
		if err := unix.Setrlimit(unix.RLIMIT_NOFILE, &lim); err != nil {
			return fmt.Errorf("limit of open files to 1024: %w", err)
		}
	}
	return nil
}
