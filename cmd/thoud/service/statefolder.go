package service

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"

	"thoud/store"
	"thoud/store/disk"
)

// Names in a state folder.
const (
	LedgerName     = store.File      // the ledger
	SettingsName   = "thoud.toml"    // settings, see Settings
	ProfilesFolder = "profiles"      // profiles of the shop's own
	PlansFolder    = "plans"         // plans of the shop's own
	BackupsFolder  = "backups"       // copies that the monitor makes
	BusFolder      = "bus"           // the stream
	SocketName     = "bus.sock"      // where commands connect, unless the service manager gives a folder for it
	sessionsName   = "sessions.json" // who gave an access code
	lockName       = "lock"          // held by the service that uses the folder
)

// Place is where a service keeps its ledger and where it listens.
type Place struct{ Dir, Socket string }

// Installed is the place of the service that the package installs; a variable for tests alone.
var Installed = Place{Dir: "/var/lib/thoud", Socket: "/run/thoud/" + SocketName}

// Usable reports whether there is an installed service that this user may use: a socket to ask it at, or, where it is
// stopped, a ledger to read.
func (p Place) Usable() bool {
	if c, err := net.Dial("unix", p.Socket); err == nil {
		return c.Close() == nil
	}
	_, err := os.Stat(filepath.Join(p.Dir, LedgerName)) // the folder lets in its group alone
	return err == nil
}

// Shut reports whether there is an installed service that this user may not use.
func (p Place) Shut() bool {
	_, err := os.Stat(filepath.Join(p.Dir, LedgerName))
	return errors.Is(err, fs.ErrPermission)
}

// InUse reports whether a state folder has a ledger or a running service.
func InUse(dir string) bool {
	for _, name := range []string{LedgerName, SocketName} {
		if _, err := os.Lstat(filepath.Join(dir, name)); err == nil {
			return true
		}
	}
	return false
}

// SocketPath is where the service of a state folder listens, with the permissions of the socket: under the service
// manager's run folder where that is given, else in the state folder.
func SocketPath(dir string) (path string, mode os.FileMode) {
	if run, _, _ := strings.Cut(os.Getenv("RUNTIME_DIRECTORY"), ":"); run != "" {
		return filepath.Join(run, SocketName), 0o660
	}
	own := filepath.Join(dir, SocketName)
	if _, err := os.Stat(own); err != nil && dir == Installed.Dir {
		return Installed.Socket, 0o660
	}
	return own, 0o600
}

// ErrLocked means that another service uses the state folder.
var ErrLocked = errors.New("another thoud service is using this state folder")

// Lock keeps a second service away from a state folder until the file is closed. It makes the folder where there is
// none. Wraps ErrLocked where another service holds it.
func Lock(dir string) (*os.File, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("state folder %s: %w", dir, err)
	}
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE|disk.NoFollow, 0o600)
	if err != nil {
		return nil, fmt.Errorf("state folder %s: %w", dir, err)
	}
	if err := disk.Hold(f); err != nil {
		who, _ := io.ReadAll(io.LimitReader(f, 32))
		f.Close()
		return nil, fmt.Errorf("state folder %s: %w (process %s): stop it, or give another --state", dir, ErrLocked, strings.TrimSpace(string(who)))
	}
	if err := f.Truncate(0); err == nil {
		_, _ = f.WriteString(fmt.Sprint(os.Getpid()))
	}
	return f, nil
}
