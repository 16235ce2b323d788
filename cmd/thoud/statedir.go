package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// Names in the state folder.
const (
	ledgerName = "ledger.db"
	lockName   = "lock"
	socketName = "bus.sock"
	busFolder  = "bus"
)

// stateDir is the state folder: --state, else $STATE_DIRECTORY (the service manager's), else the user's XDG state
// folder.
func stateDir(cmd *cobra.Command) (string, error) {
	dir, err := cmd.Flags().GetString("state")
	if err != nil {
		return "", err
	}
	if dir == "" {
		dir, _, _ = strings.Cut(os.Getenv("STATE_DIRECTORY"), ":")
	}
	if dir == "" {
		base := os.Getenv("XDG_STATE_HOME")
		if base == "" {
			home, err := os.UserHomeDir()
			if err != nil {
				return "", fmt.Errorf("no place for the state folder: %w; give --state", err)
			}
			base = filepath.Join(home, ".local", "state")
		}
		dir = filepath.Join(base, "thoud")
	}
	return filepath.Abs(dir)
}

// socketPath is where the service of a state folder listens: under the service manager's run folder where that is
// given, else in the state folder.
func socketPath(dir string) (path string, mode os.FileMode) {
	if run, _, _ := strings.Cut(os.Getenv("RUNTIME_DIRECTORY"), ":"); run != "" {
		return filepath.Join(run, socketName), 0o660
	}
	own := filepath.Join(dir, socketName)
	if _, err := os.Stat(own); err != nil && dir == "/var/lib/thoud" {
		return "/run/thoud/" + socketName, 0o660
	}
	return own, 0o600
}

// errLocked means that another service uses the state folder.
var errLocked = errors.New("another thoud service is using this state folder")

// lockState keeps a second service away from a state folder until the file is closed.
func lockState(dir string) (*os.File, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, fmt.Errorf("state folder %s: %w", dir, err)
	}
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("state folder %s: %w", dir, err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		who, _ := io.ReadAll(io.LimitReader(f, 32))
		f.Close()
		return nil, fmt.Errorf("state folder %s: %w (process %s): stop it, or give another --state", dir, errLocked, strings.TrimSpace(string(who)))
	}
	if err := f.Truncate(0); err == nil {
		_, _ = f.WriteString(fmt.Sprint(os.Getpid()))
	}
	return f, nil
}
