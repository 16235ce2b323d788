package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// benchless are the commands that want no bench: they run on every system that thoud is built for. A row without a space is
// a command with all that it holds.
func benchless() []string {
	return []string{"calc", "plan", "profile list", "profile show", "profile check", "sheet", "readings", "build list", "build show",
		"build compare", "build history", "verify", "note", "export", "rebuild", "quarantine", "backup", "restore", "guide", "schema",
		"code", "help", "completion", "__complete", "__completeNoDesc"}
}

// benchElsewhere refuses, on a system that has no bench, a command that wants one.
func benchElsewhere(cmd *cobra.Command, system string) error {
	if system != "windows" || !cmd.HasParent() || cmd.HasSubCommands() {
		return nil
	}
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	if slices.ContainsFunc(benchless(), func(b string) bool { return path == b || strings.HasPrefix(path, b+" ") }) {
		return nil
	}
	return &exitError{exitNo, fmt.Errorf("thoud %s wants a bench, which runs on Linux (and on macOS for trying it out); on Windows thoud calculates, checks plans, verifies ledgers and writes sheets", path)}
}
