package service

import (
	"context"
	"time"

	"thoud/capture/bench"
	"thoud/store"
)

// Summaries lists every build with what a list shows of it, and the job that the bench stands at. What was reckoned
// before something more was recorded is reckoned again, from the build's own entries.
func Summaries(ctx context.Context, s *store.Store, benchName string) (all []store.BuildSummary, here string, err error) {
	all, err = s.Summaries(ctx, benchName)
	if err != nil {
		return nil, "", err
	}
	for i := range all {
		if all[i].Fresh {
			continue
		}
		if all[i].Summary, err = summarise(ctx, s, benchName, all[i].Job); err != nil {
			return nil, "", err
		}
	}
	here, err = s.Here(ctx, benchName)
	return all, here, err
}

// fillSummaries reckons up, one after another and without haste, the builds that were never reckoned: those of a ledger
// that an earlier program kept.
func fillSummaries(ctx context.Context, s *store.Store, benchName string) error {
	all, err := s.Summaries(ctx, benchName)
	if err != nil {
		return err
	}
	for _, b := range all {
		if b.Fresh {
			continue
		}
		sum, err := summarise(ctx, s, benchName, b.Job)
		if err == nil {
			err = s.Summarise(ctx, benchName, map[string]bench.Summary{b.Job: sum})
		}
		if err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(betweenSummaries):
		}
	}
	return nil
}

// betweenSummaries leaves the processor to the bench.
const betweenSummaries = 200 * time.Millisecond

func summarise(ctx context.Context, s *store.Store, benchName, job string) (bench.Summary, error) {
	b, results, err := s.Build(ctx, benchName, job, store.Newest)
	if err != nil {
		return bench.Summary{}, err
	}
	return bench.Summarise(b, results), nil
}
