package service

import (
	"context"
	"errors"
	"fmt"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/pipeline/monitor/view"
	"thoud/store"
)

// archive is the ledger as the monitor's pages look into it.
type archive struct {
	s     *store.Store
	bench string
}

// Builds lists builds with what was reckoned of them last.
func (a archive) Builds(ctx context.Context, before uint64, most int) ([]view.Listed, error) {
	all, err := a.s.SummariesBefore(ctx, a.bench, before, most)
	if err != nil {
		return nil, err
	}
	out := make([]view.Listed, len(all))
	for i, b := range all {
		out[i] = view.Listed{BuildRow: b.BuildRow, Summary: b.Summary}
	}
	return out, nil
}

// Open gives the open builds of which something may be due.
func (a archive) Open(ctx context.Context, sc bench.Scene) ([]*bench.Build, bench.Results, error) {
	return OpenBuilds(ctx, a.s, a.bench, sc.State, sc.Results, sc.Moment())
}

// Build folds one build.
func (a archive) Build(ctx context.Context, job string) (*bench.Build, bench.Results, error) {
	return a.s.Build(ctx, a.bench, job, store.Newest)
}

// Engine folds the record of an engine.
func (a archive) Engine(ctx context.Context, engine string) (*bench.Engine, error) {
	return a.s.Engine(ctx, a.bench, engine, store.Newest)
}

var _ monitor.Archive = archive{}

// Entries lists matching entries, newest first.
func (a archive) Entries(ctx context.Context, f monitor.Filter) ([]monitor.Record, error) {
	var out []monitor.Record
	sf := store.Filter{Build: f.Build, Step: f.Step, Gauge: f.Gauge, Kind: f.Kind, Text: f.Text, From: f.From, To: f.To, Limit: f.Limit}
	err := a.s.EachEntry(ctx, a.bench, sf, func(r store.EntryRow) bool {
		out = append(out, monitor.Record(r))
		return true
	})
	return out, err
}

// EntryOf gives the entry of an id.
func (a archive) EntryOf(ctx context.Context, id string) (monitor.Record, error) {
	r, err := a.s.EntryOf(ctx, a.bench, id)
	if errors.Is(err, store.ErrNotThere) {
		return monitor.Record{}, fmt.Errorf("%s: %w", id, monitor.ErrNoEntry)
	}
	return monitor.Record(r), err
}

// Using lists the results that used a reading.
func (a archive) Using(ctx context.Context, id string) ([]bench.Result, error) {
	return a.s.Using(ctx, a.bench, id)
}
