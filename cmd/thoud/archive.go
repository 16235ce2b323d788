package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// archive is the ledger as the monitor's pages look into it.
type archive struct {
	s     *store.Store
	bench string
	state func() bench.State // to know which readings were withdrawn
}

const archivePage = 200

// Rows lists matching entries, newest first.
func (a archive) Rows(ctx context.Context, f monitor.Filter) (rows []monitor.Row, more bool, err error) {
	limit := f.Limit
	if limit <= 0 || limit > archivePage {
		limit = archivePage
	}
	sf := store.Filter{Build: f.Build, Step: f.Step, Text: f.Text}
	if f.Before > 1 {
		sf.To = f.Before - 1
	} else if f.Before == 1 {
		return nil, false, nil
	}
	gone := withdrawn(a.state())
	err = a.s.EachEntry(ctx, a.bench, sf, func(r store.EntryRow) bool {
		e := r.Entry
		if len(f.Kinds) > 0 && !slices.Contains(f.Kinds, e.Kind) || f.Gauge != "" && gaugeIn(e) != f.Gauge {
			return true
		}
		if len(rows) == limit {
			more = true
			return false
		}
		rows = append(rows, monitor.Row{Entry: e, Withdrawn: gone[e.ID]})
		return true
	})
	return rows, more, err
}

// withdrawn collects the ids of the readings that were taken back.
func withdrawn(s bench.State) map[string]bool {
	out := map[string]bool{}
	for _, b := range s.Builds {
		for _, st := range b.Steps {
			for _, p := range st.Passes {
				for _, r := range p.Readings {
					if r.Withdrawn {
						out[r.ID] = true
					}
				}
			}
		}
	}
	return out
}

func gaugeIn(e bench.Entry) string {
	switch {
	case e.Reading != nil:
		return e.Reading.Gauge
	case e.Zero != nil:
		return e.Zero.Gauge
	case e.Link != nil:
		return e.Link.Gauge
	case e.Gauge != nil:
		return e.Gauge.Name
	case e.Check != nil:
		return e.Check.Gauge
	}
	return ""
}

// Entry gives one entry in full.
func (a archive) Entry(ctx context.Context, n uint64) (monitor.Full, error) {
	r, err := a.s.Entry(ctx, a.bench, n)
	if errors.Is(err, store.ErrNotThere) {
		return monitor.Full{}, fmt.Errorf("%d: %w", n, monitor.ErrNoEntry)
	}
	if err != nil {
		return monitor.Full{}, err
	}
	return monitor.Full{Row: monitor.Row{Entry: r.Entry, Withdrawn: withdrawn(a.state())[r.Entry.ID]}, Body: r.Body, Seal: r.Seal.String()}, nil
}

// Uses lists the results that used a reading.
func (a archive) Uses(ctx context.Context, id string) ([]bench.Result, error) {
	return a.s.Using(ctx, a.bench, id)
}
