package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/pipeline"
	"thoud/store"
)

func newRebuildCommand() *cobra.Command {
	var recompute bool
	var backup string
	cmd := &cobra.Command{Use: "rebuild", Short: "Make the ledger's tables anew from its entries", Args: cobra.NoArgs,
		Long: `The entries are the ledger; readings, builds, and what the pages look for are tables made from them. rebuild makes those
anew, where verify found one wrong. Results stay as the builder was told them. With --recompute they are computed again by
this program's rules: one that comes out otherwise is put beside the old one and takes its place; the old one stays. That
wants a backup first: --backup FILE makes it. The service must be stopped.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if recompute && backup == "" {
				return errors.New("--recompute puts other results in the place of those that were told: name a file for a backup first with --backup FILE")
			}
			return withOwnLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				if backup != "" {
					if err := s.Backup(ctx, backup, nil); err != nil {
						return err
					}
				}
				var compute store.Compute
				if recompute {
					compute = pipeline.Compute
				}
				changed, err := s.Rebuild(ctx, name, compute)
				if err != nil {
					return err
				}
				c, err := s.Count(ctx, name)
				if err != nil {
					return err
				}
				if wantJSON(cmd) {
					return printJSON(cmd.OutOrStdout(), map[string]any{"entries": c.Entries, "readings": c.Readings, "results_changed": changed, "backup": backup})
				}
				fmt.Fprintf(cmd.OutOrStdout(), "made anew from %d entries: %d readings\n", c.Entries, c.Readings)
				if recompute {
					fmt.Fprintf(cmd.OutOrStdout(), "results that come out otherwise: %d\n", changed)
				}
				return nil
			})
		}}
	cmd.Flags().BoolVar(&recompute, "recompute", false, "compute the results again too")
	cmd.Flags().StringVar(&backup, "backup", "", "copy the ledger to this file first")
	return cmd
}

// withOwnLedger runs fn on the ledger opened for writing, with the service kept away.
func withOwnLedger(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, benchName string) error) (err error) {
	dir, err := stateDir(cmd)
	if err != nil {
		return err
	}
	lock, err := service.Lock(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	path := filepath.Join(dir, service.LedgerName)
	if r, err := store.OpenReadOnly(cmd.Context(), path); errors.Is(err, store.ErrNoLedger) {
		return err // opening to write would make one
	} else if err == nil {
		if err := r.Close(); err != nil {
			return err
		}
	}
	s, err := store.Open(cmd.Context(), path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	name, err := s.Bench(cmd.Context())
	if err == nil && name == "" {
		err = fmt.Errorf("ledger %s: nothing was recorded yet", s.Path())
	}
	if err != nil {
		return err
	}
	return fn(cmd.Context(), s, name)
}
