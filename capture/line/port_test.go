package line

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"

	"thoud/devices"
)

// terminal gives a pseudo-terminal: the gauge's side, and the path of the other.
func terminal(t *testing.T) (*os.File, string) {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { master.Close(); slave.Close() })
	return master, slave.Name()
}

// readWithin reads once from a port in a goroutine of its own and gives what came.
func readWithin(t *testing.T, p Port, d time.Duration) (string, error) {
	t.Helper()
	type got struct {
		s   string
		err error
	}
	ch := make(chan got, 1)
	go func() {
		b := make([]byte, 64)
		n, err := p.Read(b)
		ch <- got{string(b[:n]), err}
	}()
	select {
	case g := <-ch:
		return g.s, g.err
	case <-time.After(d):
		t.Fatalf("a read took longer than %s", d)
	}
	return "", nil
}

func TestOpenSerial(t *testing.T) {
	master, path := terminal(t)
	if _, err := master.WriteString("half of an old fra"); err != nil {
		t.Fatal(err)
	}
	yes := true // a pseudo-terminal has no modem lines: asking for them must not keep it closed
	line := devices.Line{Baud: 4800, DataBits: 7, Parity: "even", StopBits: 2, DTR: &yes, RTS: &yes}
	p, device, err := OpenSerial(path, line)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := readWithin(t, p, 5*time.Second); got != "" || err != nil {
		t.Errorf("what was there before it was opened: %q, %v; want nothing, after the timeout", got, err)
	}
	if _, err := master.WriteString("+0.5 in\r"); err != nil {
		t.Fatal(err)
	}
	if got, err := readWithin(t, p, 5*time.Second); err != nil || !strings.HasPrefix(got, "+0.5 in") {
		t.Errorf("read %q, %v", got, err)
	}
	if _, _, err := OpenSerial(path, line); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), path) {
		t.Errorf("opened twice: %v", err)
	}
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	again, same, err := OpenSerial(path, line)
	if err != nil {
		t.Fatal(err)
	}
	if same != device {
		t.Errorf("the same terminal is known as %s and as %s", device, same)
	}
	again.Close()
	_, other := terminal(t)
	q, another, err := OpenSerial(other, line)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	if another == device {
		t.Errorf("two terminals are both known as %s", device)
	}
}

// A port that hangs up gives an error, not an endless row of nothing.
func TestAHangUpIsAnError(t *testing.T) {
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer slave.Close()
	p, _, err := OpenSerial(slave.Name(), devices.Line{})
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if err := master.Close(); err != nil {
		t.Fatal(err)
	}
	if got, err := readWithin(t, p, 5*time.Second); err == nil {
		t.Errorf("after the hang-up: %q and no error", got)
	}
}

func TestOpenSerialSaysWhatIsWrong(t *testing.T) {
	none := filepath.Join(t.TempDir(), "ttyUSB9")
	if _, _, err := OpenSerial(none, devices.Line{}); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), none) {
		t.Errorf("nothing there: %v", err)
	}
	_, path := terminal(t)
	if _, _, err := OpenSerial(path, devices.Line{Parity: "strange"}); err == nil || !strings.Contains(err.Error(), `parity "strange"`) {
		t.Errorf("a parity that is none: %v", err)
	}
	// The failed open let the lock go.
	p, _, err := OpenSerial(path, devices.Line{})
	if err != nil {
		t.Fatal(err)
	}
	p.Close()
	other, err := os.OpenFile(path, os.O_RDONLY|syscall.O_NOCTTY|syscall.O_NONBLOCK, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if err := unix.Flock(int(other.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		t.Fatal(err)
	}
	if _, _, err := OpenSerial(path, devices.Line{}); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), "close it there, then it is opened by itself") {
		t.Errorf("locked by another program: %v", err)
	}
}

func TestLimitDescriptors(t *testing.T) {
	if err := LimitDescriptors(); err != nil {
		t.Fatal(err)
	}
	var lim unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &lim); err != nil || lim.Cur > 1024 {
		t.Errorf("the limit is %d, %v: a descriptor beyond 1024 cannot be waited for", lim.Cur, err)
	}
}

func TestBackoff(t *testing.T) {
	for failures, want := range []time.Duration{500 * time.Millisecond, time.Second, 2 * time.Second, 4 * time.Second, 5 * time.Second, 5 * time.Second} {
		if got := Backoff(failures); got != want {
			t.Errorf("after %d failures %s, want %s", failures, got, want)
		}
	}
	if got := Backoff(1_000_000); got != 5*time.Second {
		t.Errorf("after a million failures %s", got)
	}
}
