package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

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

// withRows runs fn on the open ledger as it lies there, with the name of the bench that is meant: at a hub, of a further history
// what came after it parted.
func withRows(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, name string) error) error {
	return withHistories(cmd, func(ctx context.Context, s *store.Store, _ *service.Forks) error {
		name, err := meant(cmd, s)
		if err != nil {
			return err
		}
		return fn(ctx, s, name)
	})
}

// withLedger runs fn on the ledger of the bench that is meant, whole from its first entry, and the name that its rows have there.
func withLedger(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, benchName string) error) error {
	return withHistories(cmd, func(ctx context.Context, s *store.Store, forks *service.Forks) error {
		name, err := meant(cmd, s)
		if err != nil {
			return err
		}
		return inHistory(ctx, forks, name, func(k service.Kept) error { return fn(ctx, k.Store, k.In) })
	})
}

// meant is the bench that a command was told to look at.
func meant(cmd *cobra.Command, s *store.Store) (string, error) {
	asked, err := cmd.Flags().GetString("bench")
	if err != nil {
		return "", err
	}
	return whose(cmd.Context(), s, asked)
}

// withHistories runs fn on the open ledger and what puts its further histories together.
func withHistories(cmd *cobra.Command, fn func(ctx context.Context, s *store.Store, forks *service.Forks) error) (err error) {
	s, err := readLedger(cmd)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	forks, err := service.NewForks(s, "")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, forks.Close()) }()
	step, end := progressBar(cmd.ErrOrStderr(), "putting the history together")
	forks.Progress = func(done, total int) {
		if step == nil {
			return
		}
		if step(done, total); done == total {
			end()
		}
	}
	return fn(cmd.Context(), s, forks)
}

// inHistory runs fn on one history, whole.
func inHistory(ctx context.Context, forks *service.Forks, name string, fn func(service.Kept) error) error {
	k, end, err := forks.Kept(ctx, name)
	if err != nil {
		return err
	}
	defer end()
	return fn(k)
}

// withJobs runs fn for each job on the ledger it is in. A job is named by its number, which is one of the bench that is meant, or
// as BENCH/JOB; no name has a slash in it.
func withJobs(cmd *cobra.Command, jobs []string, fn func(ctx context.Context, s *store.Store, benchName, job string) error) error {
	return withHistories(cmd, func(ctx context.Context, s *store.Store, forks *service.Forks) error {
		asked, err := cmd.Flags().GetString("bench")
		if err != nil {
			return err
		}
		for _, job := range jobs {
			of := asked
			if name, rest, ok := strings.Cut(job, "/"); ok {
				of, job = name, rest
			}
			name, err := whose(ctx, s, of)
			if err != nil {
				return err
			}
			if err := inHistory(ctx, forks, name, func(k service.Kept) error { return fn(ctx, k.Store, k.In, job) }); err != nil {
				return err
			}
		}
		return nil
	})
}

// withBenches runs fn with what the ledger of the state folder keeps: at a bench its own, at a hub that of the bench that was
// asked for, or of all.
func withBenches(cmd *cobra.Command, fn func(ctx context.Context, all []service.Kept, atHub bool) error) error {
	return withHistories(cmd, func(ctx context.Context, s *store.Store, forks *service.Forks) error {
		lines, err := s.Lines(ctx)
		if err != nil {
			return err
		}
		asked, err := cmd.Flags().GetString("bench")
		if err != nil {
			return err
		}
		if asked != "" {
			name, err := whose(ctx, s, asked)
			if err != nil {
				return err
			}
			return inHistory(ctx, forks, name, func(k service.Kept) error {
				k.From = 0 // asked for by its name, it is told whole
				return fn(ctx, []service.Kept{k}, len(lines) > 0)
			})
		}
		all, end, err := service.KeptIn(ctx, s, forks)
		if err != nil {
			return err
		}
		defer end()
		return fn(ctx, all, len(lines) > 0)
	})
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
