package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// inBoth draws a picture in mm and in inches; nil where there is none. A picture holds only what the chart package
// writes, and that escapes its texts.
func inBoth(draw func(quantity.System) (string, bool)) []markup.HTML {
	mm, ok1 := draw(quantity.Metric)
	inch, ok2 := draw(quantity.Inch)
	if !ok1 || !ok2 {
		return nil
	}
	return []markup.HTML{markup.HTML(mm), markup.HTML(inch)}
}

// Pictures are those of the results of the step in work: what a method draws, and how its figures came closer from pass
// to pass.
func (v View) Pictures() [][]markup.HTML {
	b, step := v.state.Current()
	if b == nil || step == nil || step.Compute == nil {
		return nil
	}
	var out [][]markup.HTML
	st := b.Step(step.ID)
	for _, r := range newest(b, *step, v.results, len(st.Passes)) {
		if p := inBoth(func(sys quantity.System) (string, bool) {
			return chart.DrawOf(step.RunTitle(r.Key), r.Result, r.Request, sys)
		}); p != nil {
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

// tracedCurve is the picture of what a turn gave, of the side whose order comes first, else of the first that has one: it takes
// the place of the curve that was drawn live.
func (w *work) tracedCurve(results []bench.Result) []markup.HTML {
	if !slices.ContainsFunc(w.step.Points, func(p plan.Point) bool { return w.step.At(p.ID).Capture.Mode == plan.Trace }) {
		return nil
	}
	var first []markup.HTML
	for i, r := range results {
		p := inBoth(func(sys quantity.System) (string, bool) {
			return chart.DrawOf(w.step.RunTitle(r.Key), r.Result, r.Request, sys)
		})
		if p != nil && (first == nil || i < len(w.v.Rows) && w.v.Rows[i].First) {
			first = p
		}
	}
	return first
}

// convergence follows the first figure that has limits through the passes of a run.
func convergence(results bench.Results, b *bench.Build, step plan.Step, key string) chart.Series {
	var sr chart.Series
	for _, p := range b.Step(step.ID).Passes {
		r, ok := results.Get(bench.Slot{Build: b.Job, Step: step.ID, Pass: p.Number, Key: key})
		if !ok || p.Status == bench.PassIsVoid {
			continue
		}
		i := slices.IndexFunc(r.Figures, func(f calc.FigureResult) bool { return f.Limit != nil && f.Value != nil })
		if i < 0 {
			continue
		}
		f := r.Figures[i]
		sr.Title, sr.Kind, sr.Limit = strings.TrimSpace(step.RunTitle(key)+" "+calc.FigureWords(f.Name)), f.Kind, *f.Limit
		sr.Target = targetOf(r, f)
		sr.Values = append(sr.Values, chart.Value{Label: fmt.Sprintf("pass %d", p.Number), Value: *f.Value, U: f.U})
	}
	return sr
}

// targetOf is what a figure is aimed at: the place on the rule, between its limits there, carried over to the limits of the
// figure. Which way round they lie is told by where the part was and what the figure was then. Nil where the two do not have
// both limits.
func targetOf(r bench.Result, f calc.FigureResult) *float64 {
	b := r.Band
	if b == nil || b.Figure != f.Name || b.Lower == nil || b.Upper == nil || b.Now == nil || f.Limit == nil || f.Limit.Lower == nil || f.Limit.Upper == nil || *b.Upper <= *b.Lower {
		return nil
	}
	at := func(x float64, turned bool) float64 {
		share := (x - *b.Lower) / (*b.Upper - *b.Lower)
		if turned {
			share = 1 - share
		}
		return *f.Limit.Lower + share*(*f.Limit.Upper-*f.Limit.Lower)
	}
	turned := math.Abs(at(*b.Now, true)-*f.Value) < math.Abs(at(*b.Now, false)-*f.Value)
	target := at(b.Target, turned)
	return &target
}
