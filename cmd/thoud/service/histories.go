package service

import (
	"context"
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
}

var _ monitor.Histories = histories{}

// History follows a dimension over the builds of an engine.
func (h histories) History(ctx context.Context, life bench.EngineLife, dimension string) (view.HistoryData, error) {
	var d view.HistoryData
	rows, err := h.s.Builds(ctx, h.bench)
	if err != nil {
		return d, err
	}
	var builds []sheet.Sheet
	for _, row := range rows {
		if row.Engine != life.Name {
			continue
		}
		sh, err := SheetOf(ctx, h.s, h.bench, row.Job, false)
		if err != nil {
			return d, err
		}
		builds = append(builds, sh)
	}
	d.Dimensions = sheet.Dimensions(builds)
	if dimension == "" {
		return d, nil
	}
	points, err := sheet.History(builds, dimension)
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
		row := view.HistoryRow{Job: p.Job, Value: p.Shown, U: p.ShownU, Change: p.ShownBy}
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
			drawn = append(drawn, view.HistoryPoint{Label: "job " + p.Job, At: at, Value: p.Value, U: p.U})
		}
		d.Rows = append(d.Rows, row)
	}
	d.Picture = view.HistoryPicture(dimension, points[0].Kind, drawn)
	return d, nil
}
