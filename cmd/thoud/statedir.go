package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

// stateDir is the state folder of a command: --state, else $STATE_DIRECTORY (the service manager's), else the folder of the
// service that the package installs where this user may use it and has none of their own, else the user's XDG state folder.
func stateDir(cmd *cobra.Command) (string, error) {
	dir, own, err := ownStateDir(cmd)
	if err != nil || !own {
		return dir, err
	}
	if service.Installed.Usable() && !service.InUse(dir) {
		return service.Installed.Dir, nil
	}
	return dir, nil
}

// ownStateDir is the state folder without a look for an installed service: a service that is begun by hand never takes
// that one's folder unasked. own says that neither a flag nor the service manager named it.
func ownStateDir(cmd *cobra.Command) (dir string, own bool, err error) {
	if dir, err = cmd.Flags().GetString("state"); err != nil {
		return "", false, err
	}
	if dir == "" {
		dir, _, _ = strings.Cut(os.Getenv("STATE_DIRECTORY"), ":")
	}
	if dir == "" {
		own = true
		base := os.Getenv("XDG_STATE_HOME")
		if base == "" {
			home, err := os.UserHomeDir()
			if err != nil {
				return "", false, fmt.Errorf("no place for the state folder: %w; give --state", err)
			}
			base = filepath.Join(home, ".local", "state")
		}
		dir = filepath.Join(base, "thoud")
	}
	dir, err = filepath.Abs(dir)
	return dir, own, err
}
