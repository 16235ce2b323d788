package service

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"thoud/store"
)

// Names in a state folder.
const (
	LedgerName     = store.File       // the ledger
	SettingsName   = "thoud.toml"     // settings, see Settings
	ProfilesFolder = "profiles"       // profiles of the shop's own
	BackupsFolder  = "backups"        // copies that the monitor makes
	BusFolder      = "bus"            // the stream
	SocketName     = "bus.sock"       // where commands connect, unless the service manager gives a folder for it
	sessionsName   = "sessions.json"  // who gave an access code
	lockName       = "lock"           // held by the service that uses the folder
	packagedFolder = "/var/lib/thoud" // of the service that the package installs
	packagedSocket = "/run/thoud/" + SocketName
)

// SocketPath is where the service of a state folder listens, with the permissions of the socket: under the service
// manager's run folder where that is given, else in the state folder.
func SocketPath(dir string) (path string, mode os.FileMode) {
	if run, _, _ := strings.Cut(os.Getenv("RUNTIME_DIRECTORY"), ":"); run != "" {
		return filepath.Join(run, SocketName), 0o660
	}
	own := filepath.Join(dir, SocketName)
	if _, err := os.Stat(own); err != nil && dir == packagedFolder {
		return packagedSocket, 0o660
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
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("state folder %s: %w", dir, err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		who, _ := io.ReadAll(io.LimitReader(f, 32))
		f.Close()
		return nil, fmt.Errorf("state folder %s: %w (process %s): stop it, or give another --state", dir, ErrLocked, strings.TrimSpace(string(who)))
	}
	if err := f.Truncate(0); err == nil {
		_, _ = f.WriteString(fmt.Sprint(os.Getpid()))
	}
	return f, nil
}
