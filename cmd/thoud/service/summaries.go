package service

import (
	"context"
	"slices"
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

// OpenBuilds gives the open builds of which something may be due, with their results: those of a state that is loaded, and of
// the others those of which it was not reckoned that nothing runs and nothing is before them. A build that nobody ever
// closes costs no look for ever.
func OpenBuilds(ctx context.Context, s *store.Store, benchName string, st bench.State, results bench.Results, now bench.Moment) ([]*bench.Build, bench.Results, error) {
	rows, err := s.OpenSummaries(ctx, benchName)
	if err != nil {
		return nil, results, err
	}
	var open []*bench.Build
	for _, row := range rows {
		b, ok := st.Build(row.Job)
		if !ok {
			if row.Fresh && !row.MayBeDue(now) {
				continue
			}
			var own bench.Results
			if b, own, err = s.Build(ctx, benchName, row.Job, store.Newest); err != nil {
				return nil, results, err
			}
			results = results.Beside(own)
		}
		open = append(open, b)
	}
	return open, results, nil
}

// fillKept reckons up, one after another and without haste, the builds of which what lists and pages of many builds show is not
// kept: those of a ledger that an earlier program kept, and those that were recorded in when a service ended at once. The newest
// come first: they are looked at most.
func fillKept(ctx context.Context, s *store.Store, benchName string) error {
	all, err := s.Summaries(ctx, benchName)
	if err != nil {
		return err
	}
	kept, err := s.Gists(ctx, benchName, store.GistWant{})
	if err != nil {
		return err
	}
	fresh := map[string]bool{}
	for _, b := range kept {
		fresh[b.Job] = b.Fresh
	}
	for _, b := range slices.Backward(all) {
		if b.Fresh && fresh[b.Job] {
			continue
		}
		if err := keepBuild(ctx, s, benchName, b.Job); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(betweenBuilds):
		}
	}
	return nil
}

// betweenBuilds leaves the processor to the bench.
const betweenBuilds = 200 * time.Millisecond

// keepBuild folds a build and keeps what was reckoned of it.
func keepBuild(ctx context.Context, s *store.Store, benchName, job string) error {
	end, err := s.End(ctx, benchName)
	if err != nil {
		return err
	}
	b, results, err := s.Build(ctx, benchName, job, store.Newest)
	if err != nil {
		return err
	}
	if err := s.Summarise(ctx, benchName, map[string]bench.Summary{job: bench.Summarise(b, results)}); err != nil {
		return err
	}
	return s.KeepGists(ctx, benchName, end.N, map[string]bench.Gist{job: bench.GistOf(b, results)})
}

func summarise(ctx context.Context, s *store.Store, benchName, job string) (bench.Summary, error) {
	b, results, err := s.Build(ctx, benchName, job, store.Newest)
	if err != nil {
		return bench.Summary{}, err
	}
	return bench.Summarise(b, results), nil
}
