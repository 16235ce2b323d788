package line

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"go.bug.st/serial"

	"thoud/devices"
)

// Port is an open line to a gauge. Read returns (0, nil) when the read timeout passed without a byte.
type Port interface {
	io.ReadWriteCloser
}

// Opener opens the port at a path with line settings; the second result identifies the device node while it is open:
// the same text means the same plugged-in device.
type Opener func(path string, line devices.Line) (Port, string, error)

// Errors of opening a port.
var (
	ErrNoPort  = errors.New("no such port")
	ErrInUse   = errors.New("in use by another program")
	ErrNoRight = errors.New("no permission")
)

// ReadTimeout is how long a read waits for a byte; a frame that ends by silence ends no later.
const ReadTimeout = 300 * time.Millisecond

// OpenSerial is the Opener for real ports and pseudo-terminals: it opens the port, takes the advisory lock so that no
// second service reads half of the bytes, and throws away what was in the buffer. Errors wrap ErrNoPort, ErrInUse or
// ErrNoRight where they apply.
func OpenSerial(path string, line devices.Line) (Port, string, error) {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return nil, "", openError(path, err)
	}
	if err := mustBeSerial(real); err != nil {
		return nil, "", openError(path, err)
	}
	lock, err := lockDevice(real)
	if err != nil {
		return nil, "", openError(path, err)
	}
	mode, err := serialMode(line)
	if err != nil {
		lock.Close()
		return nil, "", fmt.Errorf("port %s: %w", path, err)
	}
	p, err := serial.Open(real, mode)
	if err != nil {
		lock.Close()
		return nil, "", openError(path, err)
	}
	if err := p.SetReadTimeout(ReadTimeout); err != nil {
		p.Close()
		lock.Close()
		return nil, "", fmt.Errorf("port %s: set read timeout: %w", path, err)
	}
	if line.DTR != nil {
		_ = p.SetDTR(*line.DTR) // pseudo-terminals have no modem lines
	}
	if line.RTS != nil {
		_ = p.SetRTS(*line.RTS)
	}
	_ = p.ResetInputBuffer()
	return &lockedPort{Port: p, lock: lock}, deviceIdentity(real, lock), nil
}

type lockedPort struct {
	serial.Port
	lock *os.File
}

// Close closes the port and lets the lock go.
func (p *lockedPort) Close() error {
	err := p.Port.Close()
	p.lock.Close()
	return err
}

func serialMode(l devices.Line) (*serial.Mode, error) {
	m := &serial.Mode{BaudRate: l.Baud, DataBits: l.DataBits}
	if m.BaudRate == 0 {
		m.BaudRate = 9600
	}
	if m.DataBits == 0 {
		m.DataBits = 8
	}
	switch l.Parity {
	case "", "none":
		m.Parity = serial.NoParity
	case "even":
		m.Parity = serial.EvenParity
	case "odd":
		m.Parity = serial.OddParity
	default:
		return nil, fmt.Errorf("parity %q: want none, even or odd", l.Parity)
	}
	if l.StopBits == 2 {
		m.StopBits = serial.TwoStopBits
	}
	return m, nil
}

func openError(path string, err error) error {
	var pe *serial.PortError
	errors.As(err, &pe)
	switch {
	case errors.Is(err, fs.ErrNotExist) || pe != nil && pe.Code() == serial.PortNotFound:
		return fmt.Errorf("port %s: %w: is the gauge plugged in and switched on?", path, ErrNoPort)
	case errors.Is(err, ErrInUse) || pe != nil && pe.Code() == serial.PortBusy:
		return fmt.Errorf("port %s: %w: close it there, then it is opened by itself", path, ErrInUse)
	case errors.Is(err, fs.ErrPermission) || pe != nil && pe.Code() == serial.PermissionDenied:
		return fmt.Errorf("port %s: %w: add the user to the group dialout and log in again", path, ErrNoRight)
	}
	return fmt.Errorf("port %s: open: %w", path, err)
}
