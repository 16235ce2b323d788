package service

import (
	"context"
	"errors"
	"fmt"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// archive is the ledger as the monitor's pages look into it.
type archive struct {
	s     *store.Store
	bench string
}

var _ monitor.Archive = archive{}

// Entries lists matching entries, newest first.
func (a archive) Entries(ctx context.Context, f monitor.Filter) ([]monitor.Record, error) {
	var out []monitor.Record
	sf := store.Filter{Build: f.Build, Step: f.Step, Kind: f.Kind, Text: f.Text, From: f.From, To: f.To}
	err := a.s.EachEntry(ctx, a.bench, sf, func(r store.EntryRow) bool {
		if f.Gauge == "" || bench.GaugeOf(r.Entry) == f.Gauge {
			out = append(out, monitor.Record(r))
		}
		return f.Limit == 0 || len(out) < f.Limit
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
