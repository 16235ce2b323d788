package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// openLedger opens the ledger of the state folder to read, with or without a running service, and says whose it is.
func openLedger(cmd *cobra.Command) (*store.Store, string, error) {
	dir, err := stateDir(cmd)
	if err != nil {
		return nil, "", err
	}
	s, err := store.OpenReadOnly(cmd.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		return nil, "", err
	}
	name, err := s.Bench(cmd.Context())
	if err == nil && name == "" {
		err = fmt.Errorf("ledger %s: nothing was recorded yet", s.Path())
	}
	if err != nil {
		return nil, "", errors.Join(err, s.Close())
	}
	return s, name, nil
}

// withLedger runs fn on the open ledger and closes it.
func withLedger(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, benchName string) error) error {
	s, name, err := openLedger(cmd)
	if err != nil {
		return err
	}
	return errors.Join(fn(cmd.Context(), s, name), s.Close())
}

// progressBar draws how far something is on a terminal; on anything else it is silent. The second result ends its line.
func progressBar(w io.Writer, what string) (step func(done, total int), end func()) {
	if !isTerminal(w) {
		return nil, func() {}
	}
	const wide = 30
	last := -1
	return func(done, total int) {
			if total <= 0 {
				return
			}
			part := done * wide / total
			if part == last && done < total {
				return
			}
			last = part
			fmt.Fprintf(w, "\r%s |%s%s| %d of %d", what, strings.Repeat("-", part), strings.Repeat(" ", wide-part), done, total)
		}, func() {
			if last >= 0 {
				fmt.Fprintln(w)
			}
		}
}

// toFile writes a result where it is wanted: to standard output for "", else to a file, which has its name only once
// it is whole.
func toFile(cmd *cobra.Command, path string, write func(io.Writer) error) (err error) {
	if path == "" || path == "-" {
		return write(cmd.OutOrStdout())
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".thoud-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("write %s: %w", path, err), os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Chmod(0o644), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
