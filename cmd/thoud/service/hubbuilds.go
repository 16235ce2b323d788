package service

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// allBuilds are the builds of every bench in a hub's ledger. Of a bench with two histories it takes the first, as its pages do.
type allBuilds struct{ s *store.Store }

var _ monitor.AllBuilds = allBuilds{}

// List gives the builds of the benches that may be looked at, newest first.
func (a allBuilds) List(ctx context.Context, text string, may func(string) bool) ([]monitor.BenchBuild, error) {
	lines, err := a.s.Lines(ctx)
	if err != nil {
		return nil, err
	}
	text = strings.ToLower(text)
	var out []monitor.BenchBuild
	for _, l := range lines {
		if name, _ := hub.BenchOf(l.Name); name != l.Name || !may(name) {
			continue
		}
		rows, err := a.s.Builds(ctx, l.Name)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			if strings.Contains(strings.ToLower(row.Engine+"\n"+row.Job+"\n"+row.Plan), text) {
				out = append(out, monitor.BenchBuild{Bench: l.Name, BuildRow: row})
			}
		}
	}
	slices.SortStableFunc(out, func(x, y monitor.BenchBuild) int { return cmp.Compare(y.At, x.At) })
	return out, nil
}

// Build folds one build of a bench.
func (a allBuilds) Build(ctx context.Context, benchName, job string) (*bench.Build, bench.Results, bool, error) {
	b, results, err := a.s.Build(ctx, benchName, job, store.Newest)
	if errors.Is(err, store.ErrNotThere) {
		return nil, results, false, nil
	}
	return b, results, err == nil, err
}
