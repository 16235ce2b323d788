package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// openLedger opens the ledger of the state folder to read, with or without a running service, and says whose it is.
func openLedger(cmd *cobra.Command) (*store.Store, string, error) {
	s, err := readLedger(cmd)
	if err != nil {
		return nil, "", err
	}
	asked, err := cmd.Flags().GetString("bench")
	if err != nil {
		return nil, "", errors.Join(err, s.Close())
	}
	name, err := whose(cmd.Context(), s, asked)
	if err != nil {
		return nil, "", errors.Join(err, s.Close())
	}
	return s, name, nil
}

// readLedger opens the ledger of the state folder to read.
func readLedger(cmd *cobra.Command) (*store.Store, error) {
	dir, err := stateDir(cmd)
	if err != nil {
		return nil, err
	}
	return store.OpenReadOnly(cmd.Context(), filepath.Join(dir, service.LedgerName))
}

// whose says which bench's ledger is meant: at a bench its own, at a hub the one that was asked for.
func whose(ctx context.Context, s *store.Store, asked string) (string, error) {
	name, err := s.Bench(ctx)
	if err != nil {
		return "", err
	}
	lines, err := s.Lines(ctx)
	if err != nil {
		return "", err
	}
	var have []string
	for _, l := range lines {
		if l.Name == asked {
			return asked, nil
		}
		have = append(have, l.Name)
	}
	switch {
	case len(have) == 1 && asked == "":
		return have[0], nil
	case len(have) > 0 && asked == "":
		return "", fmt.Errorf("ledger %s is a hub's: say which bench with --bench; it has %s", s.Path(), strings.Join(have, ", "))
	case len(have) > 0:
		return "", fmt.Errorf("ledger %s has nothing of bench %q; it has %s", s.Path(), asked, strings.Join(have, ", "))
	case name == "":
		return "", fmt.Errorf("ledger %s: nothing was recorded yet", s.Path())
	case asked != "" && asked != name:
		return "", fmt.Errorf("ledger %s is bench %q's, not bench %q's", s.Path(), name, asked)
	}
	return name, nil
}

// withLedger runs fn on the open ledger and closes it.
func withLedger(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, benchName string) error) error {
	s, name, err := openLedger(cmd)
	if err != nil {
		return err
	}
	return errors.Join(fn(cmd.Context(), s, name), s.Close())
}

// withJobs runs fn for each job on the open ledger. A job is named by its number, which is one of the bench that is meant, or
// as BENCH/JOB; no name has a slash in it.
func withJobs(cmd *cobra.Command, jobs []string, fn func(ctx context.Context, s *store.Store, benchName, job string) error) (err error) {
	s, err := readLedger(cmd)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	meant, err := cmd.Flags().GetString("bench")
	if err != nil {
		return err
	}
	for _, job := range jobs {
		asked := meant
		if name, rest, ok := strings.Cut(job, "/"); ok {
			asked, job = name, rest
		}
		name, err := whose(cmd.Context(), s, asked)
		if err != nil {
			return err
		}
		if err := fn(cmd.Context(), s, name, job); err != nil {
			return err
		}
	}
	return nil
}

// withBenches runs fn with what the ledger of the state folder keeps: at a bench its own, at a hub that of the bench that was
// asked for, or of all.
func withBenches(cmd *cobra.Command, fn func(ctx context.Context, all []service.Kept, atHub bool) error) (err error) {
	ctx := cmd.Context()
	s, err := readLedger(cmd)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	lines, err := s.Lines(ctx)
	if err != nil {
		return err
	}
	scratch, err := os.MkdirTemp("", "thoud-histories-")
	if err != nil {
		return err
	}
	forks, err := service.NewForks(s, scratch)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, forks.Close()) }()
	asked, err := cmd.Flags().GetString("bench")
	if err != nil {
		return err
	}
	if asked != "" {
		name, err := whose(ctx, s, asked)
		if err != nil {
			return err
		}
		k, end, err := forks.Kept(ctx, name)
		if err != nil {
			return err
		}
		defer end()
		k.From = 0 // asked for by its name, it is told whole
		return fn(ctx, []service.Kept{k}, len(lines) > 0)
	}
	all, end, err := service.KeptIn(ctx, s, forks)
	if err != nil {
		return err
	}
	defer end()
	return fn(ctx, all, len(lines) > 0)
}

// withWholeLedger runs fn on the open ledger, with the names of all benches that are in it: at a bench its own.
func withWholeLedger(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, benches []string) error) (err error) {
	ctx := cmd.Context()
	s, err := readLedger(cmd)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	lines, err := s.Lines(ctx)
	if err != nil {
		return err
	}
	var names []string
	for _, l := range lines {
		names = append(names, l.Name)
	}
	if len(names) == 0 {
		name, err := whose(ctx, s, "")
		if err != nil {
			return err
		}
		names = []string{name}
	}
	return fn(ctx, s, names)
}
