package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"thoud/store/disk"
)

// addLogFlags are the flags of what logs.
func addLogFlags(cmd *cobra.Command) {
	cmd.Flags().String("log-level", "info", "from which level on: debug, info, warn or error")
	cmd.Flags().String("log-format", "auto", "auto, text, json or journal; auto: text on a terminal, the journal under the service manager, else JSON lines")
}

// newLogger makes the logger that the flags ask for. To the journal each field goes as a field of its own, so that
// journalctl can look for it.
func newLogger(cmd *cobra.Command) (zerolog.Logger, error) {
	w := cmd.ErrOrStderr()
	name, err := cmd.Flags().GetString("log-level")
	if err != nil {
		return zerolog.Nop(), err
	}
	level, err := zerolog.ParseLevel(name)
	if err != nil || level < zerolog.DebugLevel || level > zerolog.ErrorLevel {
		return zerolog.Nop(), usageError(cmd, "--log-level %q: want debug, info, warn or error", name)
	}
	format, err := cmd.Flags().GetString("log-format")
	if err != nil {
		return zerolog.Nop(), err
	}
	if format == "auto" {
		switch {
		case isTerminal(w):
			format = "text"
		case underJournal():
			format = "journal"
		default:
			format = "json"
		}
	}
	switch format {
	case "text":
		return zerolog.New(zerolog.ConsoleWriter{Out: w, TimeFormat: time.TimeOnly, NoColor: !isTerminal(w)}).Level(level).With().Timestamp().Logger(), nil
	case "json":
		return zerolog.New(w).Level(level).With().Timestamp().Logger(), nil
	case "journal":
		return zerolog.New(journalWriter()).Level(level), nil // the journal has its own time
	}
	return zerolog.Nop(), usageError(cmd, "--log-format %q: want auto, text, json or journal", format)
}

// underJournal reports whether standard error is the journal's stream: the service manager says which file that is.
func underJournal() bool {
	dev, inode, ok := strings.Cut(os.Getenv("JOURNAL_STREAM"), ":")
	if !ok {
		return false
	}
	d, i, err := disk.FileNumbers(os.Stderr)
	return err == nil && dev == fmt.Sprint(d) && inode == fmt.Sprint(i)
}
