package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
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
