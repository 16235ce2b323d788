//go:build unix

package main

import (
	"io"

	"github.com/rs/zerolog/journald"
)

// journalWriter writes to the service manager's journal.
func journalWriter() io.Writer { return journald.NewJournalDWriter() }
