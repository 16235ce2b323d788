//go:build unix

package simulate

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// terminal is one pseudo-terminal: the gauge's side of a cable. The other side is kept open as well, so that reading
// requests does not fail while nobody has the port open, and so that the raw mode stays.
type terminal struct {
	master, slave *os.File
	done          sync.WaitGroup
}

// patience is how long a write waits for a reader; what does not go out by then is lost, as with a real gauge.
const patience = 20 * time.Millisecond

// openTerminal makes a pseudo-terminal in raw mode; heard is called, from one goroutine, with what the other side sends.
func openTerminal(heard func([]byte)) (*terminal, error) {
	opened, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("pseudo-terminal: %w", err)
	}
	master, err := pollable(opened)
	if err := errors.Join(err, opened.Close()); err != nil {
		return nil, errors.Join(fmt.Errorf("pseudo-terminal: %w", err), slave.Close())
	}
	t := &terminal{master: master, slave: slave}
	if err := makeRaw(slave); err != nil {
		return nil, errors.Join(fmt.Errorf("pseudo-terminal: raw mode: %w", err), t.close())
	}
	t.done.Add(1)
	go func() {
		defer t.done.Done()
		buf := make([]byte, 512)
		for {
			n, err := master.Read(buf)
			if n > 0 {
				heard(buf[:n])
			}
			if err != nil {
				return
			}
		}
	}()
	return t, nil
}

// pollable gives the same open file with deadlines, and with a Close that wakes its reader.
func pollable(f *os.File) (*os.File, error) {
	c, err := f.SyscallConn()
	if err != nil {
		return nil, err
	}
	var inner error
	fd := -1
	err = c.Control(func(old uintptr) {
		if fd, inner = unix.FcntlInt(old, unix.F_DUPFD_CLOEXEC, 0); inner == nil {
			inner = unix.SetNonblock(fd, true)
		}
	})
	if err := errors.Join(err, inner); err != nil {
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}

// write sends bytes and reports how many were lost because nobody reads.
func (t *terminal) write(b []byte) (lost int, err error) {
	if err := t.master.SetWriteDeadline(time.Now().Add(patience)); err != nil {
		return len(b), fmt.Errorf("pseudo-terminal: %w", err)
	}
	n, err := t.master.Write(b)
	if errors.Is(err, os.ErrDeadlineExceeded) || errors.Is(err, io.ErrShortWrite) {
		err = nil
	}
	if err != nil {
		return len(b) - n, fmt.Errorf("pseudo-terminal: %w", err)
	}
	return len(b) - n, nil
}

// waiting is how many bytes went out that nobody has read yet. Linux carries what is written to the other side by a
// worker of its own; asking whether there is something to read waits for that worker.
func (t *terminal) waiting() (n int, err error) {
	c, err := t.slave.SyscallConn()
	if err != nil {
		return 0, fmt.Errorf("pseudo-terminal: %w", err)
	}
	var inner error
	err = c.Control(func(fd uintptr) {
		if _, inner = unix.Poll([]unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}, 0); inner != nil && !errors.Is(inner, unix.EINTR) {
			return
		}
		n, inner = unix.IoctlGetInt(int(fd), unread)
	})
	if err := errors.Join(err, inner); err != nil {
		return 0, fmt.Errorf("pseudo-terminal: unread bytes: %w", err)
	}
	return n, nil
}

// close hangs up: whoever has the port open sees the end of it.
func (t *terminal) close() error {
	err := errors.Join(t.master.Close(), t.slave.Close())
	t.done.Wait()
	return err
}

// makeRaw sets a terminal to pass every byte as it is: no echo, no line editing, no translation.
func makeRaw(f *os.File) error {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	err = c.Control(func(fd uintptr) {
		tio, err := unix.IoctlGetTermios(int(fd), getTermios)
		if err != nil {
			inner = err
			return
		}
		tio.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
		tio.Oflag &^= unix.OPOST
		tio.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
		tio.Cflag = tio.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
		tio.Cc[unix.VMIN], tio.Cc[unix.VTIME] = 1, 0
		inner = unix.IoctlSetTermios(int(fd), setTermios, tio)
	})
	return errors.Join(err, inner)
}
