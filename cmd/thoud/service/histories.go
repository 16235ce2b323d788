package service

import (
	"context"
	"errors"
	"slices"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/pipeline/monitor/view"
	"thoud/store"
	"thoud/store/sheet"
)

// histories follows dimensions over the builds of an engine for the monitor.
type histories struct {
	s     *store.Store
	bench string
	held  func() (bench.State, bench.Results) // builds in memory; nil where none is
}

var _ monitor.Histories = histories{}

// History follows a dimension over the builds of an engine.
func (h histories) History(ctx context.Context, life bench.EngineLife, dimension string) (view.HistoryData, error) {
	return historyOf(ctx, []Kept{{Name: h.bench, Store: h.s, In: h.bench}}, life, dimension, h.held, func(p sheet.Point) string { return p.Job })
}

// historyOf follows a dimension over the builds of an engine at some benches; named says how a build is called.
func historyOf(ctx context.Context, all []Kept, life bench.EngineLife, dimension string, held func() (bench.State, bench.Results), named func(sheet.Point) string) (view.HistoryData, error) {
	var d view.HistoryData
	found, err := follow(ctx, all, life.Name, dimension, gists{held: held, most: lookReckons})
	if errors.Is(err, ErrEngine) {
		return d, nil // its hours or parts are known, and no build
	}
	if err != nil {
		return d, err
	}
	called := dimension
	d.Left = view.LeftWords(found.Left, len(found.Builds)+found.Left)
	for _, dim := range sheet.Dimensions(found.Figures) {
		if n := len(d.Dimensions); n == 0 || d.Dimensions[n-1].Step != dim.Step {
			d.Dimensions = append(d.Dimensions, view.DimensionGroup{Step: dim.Step})
		}
		group := &d.Dimensions[len(d.Dimensions)-1]
		group.All = append(group.All, view.DimensionRow{Name: dim.Name, Words: dim.Words})
		if dim.Name == dimension {
			called = dim.String()
		}
	}
	if dimension == "" {
		return d, nil
	}
	points, err := sheet.History(found.Builds, dimension)
	if err != nil {
		return d, err
	}
	points = sheet.WithHours(points, life.HoursBy)
	wear, why, ok := sheet.WearOf(points, "")
	if d.Wear = wear.Words; !ok {
		d.Wear = view.Text{MM: why, Inch: why}
	}
	var drawn []view.HistoryPoint
	for _, p := range points {
		row := view.HistoryRow{Job: named(p), Value: p.Shown, U: p.ShownU, Change: p.ShownBy}
		if p.Hours != nil {
			row.Hours = bench.HourWords(*p.Hours)
		}
		switch {
		case p.Changed:
			row.Says = "changed"
		case p.By != nil && p.U > 0:
			row.Says = "the same within its uncertainty"
		}
		if at, err := time.Parse(time.RFC3339, p.At); err == nil {
			row.Ended = view.Day(at.UnixMicro())
			drawn = append(drawn, view.HistoryPoint{Label: "job " + row.Job, At: at, Value: p.Value, U: p.U})
		}
		d.Rows = append(d.Rows, row)
	}
	d.Picture = view.HistoryPicture(called, points[0].Kind, drawn)
	return d, nil
}

// allHistories follows dimensions over the builds that an engine had at any bench of a hub.
type allHistories struct {
	s     *store.Store
	forks *Forks
}

var _ monitor.AllHistories = allHistories{}

// those are the histories of the benches that may be looked at; end is to be called once they are read.
func (a allHistories) those(ctx context.Context, may func(string) bool) (all []Kept, end func(), err error) {
	all, end, err = KeptIn(ctx, a.s, a.forks)
	return slices.DeleteFunc(all, func(k Kept) bool { return !may(k.Name) }), end, err
}

// Engines lists the engines that were built at the benches that may be looked at.
func (a allHistories) Engines(ctx context.Context, may func(string) bool) ([]string, error) {
	all, end, err := a.those(ctx, may)
	if err != nil {
		return nil, err
	}
	defer end()
	return enginesIn(ctx, all)
}

// History follows a dimension of an engine over the benches that may be looked at.
func (a allHistories) History(ctx context.Context, may func(string) bool, engine, dimension string) (view.HistoryData, error) {
	all, end, err := a.those(ctx, may)
	if err != nil {
		return view.HistoryData{}, err
	}
	defer end()
	life, odd, err := LifeIn(ctx, all, engine)
	if err != nil {
		return view.HistoryData{}, err
	}
	d, err := historyOf(ctx, all, life, dimension, nil, sheet.Point.Ref)
	if err != nil {
		return d, err
	}
	d.Fault = odd
	for _, k := range all {
		s, err := livesIn(ctx, []Kept{k}, bench.PartFitted, bench.PartOut)
		if err != nil {
			return d, err
		}
		s.Lives = []bench.EngineLife{life}
		for _, row := range view.FittedIn(s, engine) {
			row.Bench = k.Name // a mark is a bench's own: the same one elsewhere may be on another part
			d.Fitted = append(d.Fitted, row)
		}
	}
	return d, nil
}
