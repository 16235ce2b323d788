package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

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
