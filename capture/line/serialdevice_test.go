package line_test

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"thoud/capture/line"
	"thoud/devices"
)

// Opening alone does something to some devices (a watchdog starts, a tape winds): what is no serial port is not opened.
func TestOnlySerialDevicesAreOpened(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	pipe := filepath.Join(dir, "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link")
	if err := os.Symlink("/dev/null", link); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{file, pipe, link, dir, "/dev/null", "/dev/zero", "/dev/tty"} {
		p, _, err := line.OpenSerial(path, devices.Line{Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1})
		if err == nil {
			p.Close()
			t.Errorf("%s was opened", path)
			continue
		}
		if !strings.Contains(err.Error(), "no serial port") {
			t.Errorf("%s: %v; want it said that this is no serial port", path, err)
		}
	}
}
