package monitor_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
	"thoud/pipeline/monitor/view"
)

// fakeArchive answers from the fake bench's own entries.
type fakeArchive struct{ f *fakeBench }

func (a fakeArchive) record(e bench.Entry) (monitor.Record, error) {
	body, err := json.Marshal(e)
	return monitor.Record{Entry: e, Body: body, Seal: bench.Seal{}.After(body)}, err
}

func (a fakeArchive) Entries(_ context.Context, want monitor.Filter) ([]monitor.Record, error) {
	a.f.mu.Lock()
	defer a.f.mu.Unlock()
	var out []monitor.Record
	for n := a.f.state.N; n >= 1 && len(out) < want.Limit; n-- {
		e, ok := a.f.bodies[n]
		if !ok || n < want.From || want.To > 0 && n > want.To || want.Kind != "" && e.Kind != want.Kind || want.Build != "" && e.Place.Build != want.Build {
			continue
		}
		r, err := a.record(e)
		if err != nil {
			return nil, err
		}
		if want.Text != "" && !strings.Contains(string(r.Body), want.Text) {
			continue
		}
		out = append(out, r)
	}
	return out, nil
}

func (a fakeArchive) EntryOf(_ context.Context, id string) (monitor.Record, error) {
	a.f.mu.Lock()
	defer a.f.mu.Unlock()
	for _, e := range a.f.bodies {
		if e.ID == id {
			return a.record(e)
		}
	}
	return monitor.Record{}, fmt.Errorf("entry %s: %w", id, monitor.ErrNoEntry)
}

func (a fakeArchive) Using(_ context.Context, id string) ([]bench.Result, error) {
	var out []bench.Result
	for _, r := range a.f.Results().All() {
		if slices.Contains(r.Readings, id) {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(x, y bench.Result) int { return int(x.N) - int(y.N) })
	return out, nil
}

func (a fakeArchive) Builds(_ context.Context, before uint64, most int) ([]view.Listed, error) {
	all := slices.DeleteFunc(view.Listing(a.f.State(), a.f.Results()), func(l view.Listed) bool { return l.N >= before })
	return all[max(0, len(all)-most):], nil
}

func (a fakeArchive) Open(_ context.Context, sc bench.Scene) ([]*bench.Build, bench.Results, error) {
	return slices.DeleteFunc(slices.Clone(sc.State.Builds), func(b *bench.Build) bool { return b.Closed }), sc.Results, nil
}

func (a fakeArchive) Build(_ context.Context, job string) (*bench.Build, bench.Results, error) {
	b, ok := a.f.State().Build(job)
	if !ok {
		return nil, bench.Results{}, fmt.Errorf("no build %s", job)
	}
	return b, a.f.Results(), nil
}

func (a fakeArchive) Seatings(context.Context, []string) (map[string][]bench.Seating, int, error) {
	return nil, 0, nil // its builds are all in memory
}

func (a fakeArchive) Findings(context.Context, []string) (map[string][]bench.Finding, int, error) {
	return nil, 0, nil
}

func (a fakeArchive) Engine(_ context.Context, engine string) (*bench.Engine, error) {
	if g, ok := a.f.State().Record(engine); ok {
		return g, nil
	}
	return &bench.Engine{Name: engine}, nil
}

// fakeSheets writes a sheet of one line.
type fakeSheets struct{}

func (fakeSheets) Sheet(_ context.Context, asked monitor.SheetAsked, w io.Writer) error {
	job, format, system := asked.Job, asked.Format, asked.System
	_, err := fmt.Fprintf(w, `<!doctype html><html lang="en"><head><title>Sheet</title><style>p{font-weight:bold}</style></head><body><main><h1>Job %s</h1><p>%s, %s</p></main></body></html>`, job, format, system)
	return err
}

// fakeFinder has one new port.
type fakeFinder struct{}

func (fakeFinder) Ports(context.Context) ([]monitor.Port, error) {
	return []monitor.Port{{Path: "/dev/ttyUSB3", Known: bench.KnownUSB, Identity: "1a2b:3c4d:0007", Adapter: "a serial adapter"}}, nil
}

func (fakeFinder) Profiles() []string { return []string{"text", "text-unit"} }

func (fakeFinder) Identify(_ context.Context, path string, progress func(done, total int, words string)) (bench.Gauge, error) {
	for i := range 4 {
		progress(i, 4, fmt.Sprintf("line settings %d of 4", i+1))
	}
	return bench.Gauge{Port: path, Profile: "text", Known: bench.KnownUSB, Identity: "1a2b:3c4d:0007", Role: "caliper", Sends: bench.SendsStream, Sense: 1}, nil
}

// fakeKeeper verifies in a hundred steps, and cannot copy.
type fakeKeeper struct{}

func (fakeKeeper) Verify(_ context.Context, progress func(done, total int)) (string, error) {
	for i := range 100 {
		progress(i+1, 100)
	}
	return "Whole: 14 entries", nil
}

func (fakeKeeper) Backup(context.Context, func(done, total int)) (string, error) {
	return "", errors.New("the disk is full; make room")
}

// fakeHistories has one dimension over three builds.
type fakeHistories struct{}

func (fakeHistories) History(_ context.Context, life bench.EngineLife, dimension string) (view.HistoryData, error) {
	d := view.HistoryData{Dimensions: []view.DimensionGroup{{Step: "Bores and pistons", All: []view.DimensionRow{{Name: "bore-map-left/greatest", Words: "left: greatest"}}}, {Step: "Deck", All: []view.DimensionRow{{Name: "deck", Words: "deck"}}}}}
	if dimension == "" {
		return d, nil
	}
	d.Wear = view.Text{MM: "0.0011 mm ± 0.0002 mm an hour, of 3 builds; it meets its limit 71.08 mm at 80 h, between 72 and 95 h; the engine had 24 h then", Inch: "0.04 thou ± 0.01 thou an hour"}
	var drawn []view.HistoryPoint
	for i, job := range []string{"9", "12", "17"} {
		v := 71 + 0.012*float64(i)
		drawn = append(drawn, view.HistoryPoint{Label: "job " + job, At: time.Date(2024+i, 3, 1, 10, 0, 0, 0, time.UTC), Value: v, U: 0.003})
		d.Rows = append(d.Rows, view.HistoryRow{Job: job, Ended: fmt.Sprintf("%d-03-01 10:00", 2024+i), Hours: bench.HourWords(12 * float64(i)), Value: calc.ShowFigure(quantity.Length, v, calc.Grain{U: 0.003}), U: calc.ShowFigure(quantity.Length, 0.003, calc.Grain{U: 0.003}), Says: "changed"})
		if i > 0 {
			d.Rows[i].Change = calc.ShowFigure(quantity.Length, -0.012, calc.Grain{U: 0.003})
		}
	}
	d.Picture = view.HistoryPicture(dimension, quantity.Length, drawn)
	return d, nil
}

// fakePlans keeps plans in memory.
type fakePlans map[string][]byte

func (p fakePlans) Own() ([]string, error) { return slices.Sorted(maps.Keys(p)), nil }

func (p fakePlans) Text(name string) ([]byte, error) {
	if text, ok := p[name]; ok {
		return text, nil
	}
	return plan.ShippedText(name)
}

func (p fakePlans) Keep(name string, text []byte) error {
	p[name] = text
	return nil
}
