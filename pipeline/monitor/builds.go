package monitor

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// BuildRow is one build in the list.
type BuildRow struct {
	Job, Engine, Plan, Started string
	Closed, Here               bool
	Done, Steps                int
	Inside, Loose              int
}

// BuildsData is what the page of the builds shows.
type BuildsData struct {
	Builds  []BuildRow
	Plans   []PlanChoice
	Engines []string
	Open    bool // a build is on the bench
	Fault   string
}

// PlanChoice is a plan that ships.
type PlanChoice struct{ Name, Title string }

func (s *Server) buildsPage(w http.ResponseWriter, r *http.Request) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	d := BuildsData{Open: state.Place.Build != ""}
	for i := len(state.Builds) - 1; i >= 0; i-- {
		b := state.Builds[i]
		row := BuildRow{Job: b.Job, Engine: b.Engine, Plan: b.Plan.Title, Started: day(b.At), Closed: b.Closed, Here: b.Job == state.Place.Build,
			Steps: len(b.Plan.Steps), Inside: len(b.Inside()), Loose: len(b.Loose)}
		for _, st := range b.Plan.Steps {
			if p := bench.ProgressOf(b, st, results); p == bench.Done || p == bench.SignedOff {
				row.Done++
			}
		}
		d.Builds = append(d.Builds, row)
		if b.Engine != "" && !contains(d.Engines, b.Engine) {
			d.Engines = append(d.Engines, b.Engine)
		}
	}
	names, err := plan.Shipped()
	if err != nil {
		d.Fault = err.Error()
	}
	for _, name := range names {
		title := name
		if p, err := plan.Load(name); err == nil {
			title = p.Title
		}
		d.Plans = append(d.Plans, PlanChoice{name, title})
	}
	s.page(w, r, "builds", Page{Title: "Builds", Data: d})
}

// CompareData sets builds side by side, figure by figure.
type CompareData struct {
	Engine string
	Jobs   []string
	Rows   []CompareRow
}

// CompareRow is one figure of a step's pass in force, a cell a build, with its history as a picture.
type CompareRow struct {
	Step, Figure string
	Cells        []Text
	Picture      []template.HTML // in mm and in inches; empty where there is nothing to draw
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	engine := r.URL.Query().Get("engine")
	state := s.cfg.Bench.State()
	var builds []*bench.Build
	for _, b := range state.Builds {
		if b.Engine == engine && engine != "" {
			builds = append(builds, b)
		}
	}
	s.page(w, r, "compare", Page{Title: "Compare", Data: compare(engine, builds, s.cfg.Bench.Results())})
}

func compare(engine string, builds []*bench.Build, results bench.Results) CompareData {
	d := CompareData{Engine: engine}
	type cell struct {
		row int
		fig calc.FigureResult
	}
	at := map[string]int{}
	series := map[int]*chart.Series{}
	for i, b := range builds {
		d.Jobs = append(d.Jobs, b.Job)
		for _, step := range b.Plan.Steps {
			pass := b.Step(step.ID).InForce()
			if pass == nil || step.Compute == nil {
				continue
			}
			for _, res := range results.OfPass(b, step, pass.Number) {
				for _, f := range res.Figures {
					if !contains(step.Compute.Shown, f.Name) {
						continue
					}
					name := strings.TrimSpace(runTitle(res.Key) + " " + strings.ReplaceAll(f.Name, "_", " "))
					key := step.ID + "\x00" + name
					if _, ok := at[key]; !ok {
						at[key] = len(d.Rows)
						d.Rows = append(d.Rows, CompareRow{Step: step.Title, Figure: name})
						series[at[key]] = &chart.Series{Title: step.Title + ", " + name, Kind: f.Kind}
					}
					c := cell{at[key], f}
					row := &d.Rows[c.row]
					for len(row.Cells) < i {
						row.Cells = append(row.Cells, Text{})
					}
					row.Cells = append(row.Cells, f.Shown)
					if f.Value != nil {
						sr := series[c.row]
						sr.Values = append(sr.Values, chart.Value{Label: "job " + b.Job, At: time.UnixMicro(res.At), Value: *f.Value, U: f.U})
						if f.Limit != nil {
							sr.Limit = *f.Limit
						}
					}
				}
			}
		}
	}
	for i := range d.Rows {
		for len(d.Rows[i].Cells) < len(builds) {
			d.Rows[i].Cells = append(d.Rows[i].Cells, Text{})
		}
		if sr := series[i]; len(sr.Values) > 1 {
			d.Rows[i].Picture = inBoth(func(sys quantity.System) (string, bool) { return chart.History(*sr, sys) })
		}
	}
	return d
}

// inBoth draws a picture in mm and in inches; nil where there is none. A picture holds only what the chart package
// writes, and that escapes its texts.
func inBoth(draw func(quantity.System) (string, bool)) []template.HTML {
	mm, ok1 := draw(quantity.Metric)
	inch, ok2 := draw(quantity.Inch)
	if !ok1 || !ok2 {
		return nil
	}
	return []template.HTML{template.HTML(mm), template.HTML(inch)}
}

// Pictures are those of the results of the step in work: what a method draws, and how its figures came closer from pass
// to pass.
func (v View) Pictures() [][]template.HTML {
	b, step := v.state.Current()
	if b == nil || step == nil || step.Compute == nil {
		return nil
	}
	var out [][]template.HTML
	st := b.Step(step.ID)
	for _, r := range newest(b, *step, v.results, len(st.Passes)) {
		if p := inBoth(func(sys quantity.System) (string, bool) { return chart.DrawIn(r.Result, r.Request, sys) }); p != nil {
			out = append(out, p)
		}
	}
	for _, key := range b.Plan.Keys(*step) {
		if sr := convergence(v.results, b, *step, key); len(sr.Values) > 1 {
			if p := inBoth(func(sys quantity.System) (string, bool) { return chart.Convergence(sr, sys) }); p != nil {
				out = append(out, p)
			}
		}
	}
	return out
}

// convergence follows the first figure that has limits through the passes of a run.
func convergence(results bench.Results, b *bench.Build, step plan.Step, key string) chart.Series {
	var sr chart.Series
	for _, p := range b.Step(step.ID).Passes {
		r, ok := results[bench.Slot{Build: b.Job, Step: step.ID, Pass: p.Number, Key: key}]
		if !ok || p.Status == bench.PassIsVoid {
			continue
		}
		i := slices.IndexFunc(r.Figures, func(f calc.FigureResult) bool { return f.Limit != nil && f.Value != nil })
		if i < 0 {
			continue
		}
		f := r.Figures[i]
		sr.Title, sr.Kind, sr.Limit = strings.TrimSpace(runTitle(key)+" "+strings.ReplaceAll(f.Name, "_", " ")), f.Kind, *f.Limit
		sr.Values = append(sr.Values, chart.Value{Label: fmt.Sprintf("pass %d", p.Number), Value: *f.Value, U: f.U})
	}
	return sr
}

func (s *Server) chartStyle(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	if _, err := w.Write([]byte(chart.Style())); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("style not sent")
	}
}
