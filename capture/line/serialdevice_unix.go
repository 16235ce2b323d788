//go:build unix

package line

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/unix"
)

// errNoSerial says that something is not opened, because opening alone does something to some devices.
var errNoSerial = fmt.Errorf("this is no serial port: thoud ports lists those that there are")

// mustBeSerial fails where a path, links followed, is no terminal device that a gauge can hang on: not a file, a pipe, a
// disk, and not the machine's own console.
func mustBeSerial(real string) error {
	info, err := os.Stat(real)
	if err != nil {
		return err
	}
	if info.Mode()&fs.ModeCharDevice == 0 {
		return errNoSerial
	}
	var st unix.Stat_t
	if err := unix.Stat(real, &st); err != nil {
		return err
	}
	major, minor := unix.Major(uint64(st.Rdev)), unix.Minor(uint64(st.Rdev))
	// Linux' list of devices (admin-guide/devices.txt): 4 are the consoles, from 64 on the serial ports; 5 is whatever
	// terminal is at hand; 136 to 143 are pseudo-terminals, which have no folder in sysfs.
	switch {
	case major == 4 && minor < 64, major == 5:
		return errNoSerial
	case major >= 136 && major <= 143:
		return nil
	}
	subsystem, err := os.Readlink(fmt.Sprintf("/sys/dev/char/%d:%d/subsystem", major, minor))
	if err == nil {
		if filepath.Base(subsystem) == "tty" {
			return nil
		}
		return errNoSerial
	}
	// Without sysfs (another system, a container) the name must do.
	if name := filepath.Base(real); strings.HasPrefix(name, "tty") || strings.HasPrefix(name, "cu.") {
		return nil
	}
	return errNoSerial
}
