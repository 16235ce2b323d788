package service

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// allBuilds are the builds of every bench in a hub's ledger, in each of its histories that something of them is in.
type allBuilds struct {
	s     *store.Store
	forks *Forks
}

var _ monitor.AllBuilds = allBuilds{}

// List gives the builds of the benches that may be looked at, newest first.
func (a allBuilds) List(ctx context.Context, text string, may func(string) bool) ([]monitor.BenchBuild, error) {
	all, end, err := KeptIn(ctx, a.s, a.forks)
	if err != nil {
		return nil, err
	}
	defer end()
	text = strings.ToLower(text)
	var out []monitor.BenchBuild
	for _, k := range all {
		if !may(k.Name) {
			continue
		}
		rows, err := k.Store.Builds(ctx, k.In)
		for i := 0; i < len(rows) && err == nil; i++ {
			row := rows[i]
			here := k.From == 0
			if !here {
				here, err = k.wentOn(ctx, row.Job)
			}
			if here && strings.Contains(strings.ToLower(row.Engine+"\n"+row.Job+"\n"+row.Plan), text) {
				out = append(out, monitor.BenchBuild{Bench: k.Name, Title: LineTitle(k.Name), BuildRow: row})
			}
		}
		if err != nil {
			return nil, err
		}
	}
	slices.SortStableFunc(out, func(x, y monitor.BenchBuild) int { return cmp.Compare(y.At, x.At) })
	return out, nil
}

// Findings gives what one build of a bench found.
func (a allBuilds) Findings(ctx context.Context, benchName, job string) (bench.BuildRow, []bench.Finding, bool, error) {
	k, end, err := a.forks.Kept(ctx, benchName)
	if errors.Is(err, errNoLine) {
		return bench.BuildRow{}, nil, false, nil
	}
	if err != nil {
		return bench.BuildRow{}, nil, false, err
	}
	defer end()
	all, _, err := gists{s: k.Store, in: k.In}.get(ctx, store.GistWant{Jobs: []string{job}, Large: true})
	if err != nil || len(all) == 0 {
		return bench.BuildRow{}, nil, false, err
	}
	return all[0].BuildRow, all[0].Findings, true, nil
}
