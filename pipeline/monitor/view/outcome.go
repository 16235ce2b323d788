package view

import (
	"fmt"
	"slices"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// lookAtResults puts the newest results into words: a row a side where the pass is closed, and the rule of the point in
// work where its part is moved under the gauge.
func (w *work) lookAtResults() {
	results := newest(w.b, w.step, w.results, len(w.st.Passes))
	last := w.st.Last()
	told := len(w.step.Points) == 0 // nothing is read here: the figures are what the step is for
	for _, r := range results {
		if r.Band != nil && r.Band.Point == w.point() {
			up, down := endWords(r)
			w.v.Rule = newRule(*r.Band, w.kind(), w.resolution(), up, down)
		}
		for _, f := range r.Figures {
			w.v.Figures = append(w.v.Figures, w.figure(r, f))
		}
	}
	if len(results) > 0 && (told || w.sp.Anew || last != nil && last.Status == bench.PassIsClosed) {
		w.v.Rows = w.rows(results)
		w.v.Curve = w.tracedCurve(results)
	}
}

// rank puts the result of the point in work first, then those that still ask for a move.
func (w *work) rank(r bench.Result) int {
	switch {
	case w.point() != "" && r.Band != nil && r.Band.Point == w.point():
		return 0
	case w.point() != "" && !w.sp.OnDatum() && belongs(w.point(), r.Key):
		return 1
	case r.Verdict != calc.VerdictIn && r.Verdict != calc.NoVerdict || r.Refused != "":
		return 2
	}
	return 3
}

func (w *work) kind() quantity.Kind {
	if w.at.Capture.Kind != "" {
		return w.at.Capture.Kind
	}
	return quantity.Length
}

// resolution is one count of the gauge in its base unit, 0 where it is not known.
func (w *work) resolution() float64 {
	if w.sp.Gauge != nil && w.sp.Gauge.Resolution.Valid() {
		return w.sp.Gauge.Resolution.Float()
	}
	for i := len(w.st.Passes) - 1; i >= 0; i-- {
		for _, r := range w.st.Passes[i].Readings {
			return r.Raw.Resolution()
		}
	}
	return 0
}

// gaugeStep is the step of the gauge that the readings of a figure's kind were taken with, the coarsest of several; 0 where none
// of them is of that kind.
func (w *work) gaugeStep(r bench.Result, kind quantity.Kind) float64 {
	step := 0.0
	for _, p := range w.st.Passes {
		for _, id := range r.Readings {
			if t, ok := takenOf(p, id); ok && t.Raw.Valid() && t.Raw.Kind() == kind {
				step = max(step, t.Raw.Resolution())
			}
		}
	}
	return step
}

// limits are those of a figure as they can be looked for under the gauge.
func (w *work) limits(r bench.Result, f calc.FigureResult, unit string) Text {
	if f.Limit == nil {
		return Text{}
	}
	return calc.ShowLimitsRead(f.Kind, *f.Limit, w.gaugeStep(r, f.Kind), f.Value).Counted(unit)
}

func (w *work) figure(r bench.Result, f calc.FigureResult) FigureView {
	key := r.Key
	unit := w.step.FigureCounts(key, f.Name)
	fv := FigureView{Of: w.step.RunTitle(key), Name: calc.FigureWords(f.Name), Value: f.Shown.Counted(unit), U: f.ShownU.CountedU(unit), Verdict: f.Verdict}
	fv.Limits = w.limits(r, f, unit)
	return fv
}

// lookAtPoints lists the points of the pass in work with what stands there.
func (w *work) lookAtPoints() {
	for _, pt := range w.step.Wanted(w.pass()) {
		row := PointView{ID: pt.ID, Title: pointTitle(w.step, pt.ID), Here: pt.ID == w.point()}
		taken := w.st.StandingAt(w.pass(), pt, w.step.Seatings)
		for _, r := range taken {
			row.Values = append(row.Values, Shown(r.Value).Counted(w.step.Counts(pt.ID)))
			for _, q := range w.st.Questions {
				row.Asked = row.Asked || q.Reading == r.ID
			}
		}
		if p := w.st.Pass(w.pass()); len(taken) > 0 && (p == nil || len(p.StandingAll(pt.ID, w.step.Seatings)) == 0) {
			row.Earlier = true
		}
		w.v.Points = append(w.v.Points, row)
	}
	if w.step.Datum != nil && w.step.Datum.Close {
		row := PointView{ID: bench.DatumPoint, Title: pointTitle(w.step, bench.DatumPoint), Here: w.sp.OnDatum()}
		if p := w.st.Pass(w.pass()); p != nil {
			if r, ok := p.Standing(bench.DatumPoint, 1); ok {
				row.Values = []Text{Shown(r.Value)}
			}
		}
		w.v.Points = append(w.v.Points, row)
	}
	w.lookWhereToGo()
	w.v.Near = nearPoints(w.v.Points)
}

// lookAtConfirms lists what is still to be confirmed while readings are taken: one side may be finished and confirmed before
// the other is there.
func (w *work) lookAtConfirms() {
	if len(w.step.Points) == 0 || w.v.Stage == StageConfirm || w.v.Stage == StageCaution || w.v.Stage == StageBlocked {
		return
	}
	for _, c := range w.step.Confirms {
		if _, ok := w.st.Confirmed[c.ID]; !ok {
			w.v.Confirms = append(w.v.Confirms, ConfirmRow{c.ID, c.Text})
		}
	}
}

// lookWhereToGo finds the points that the hand may go to out of turn: those that are not read yet, while readings are taken;
// so too where the point in work waits for its side, and the other side does not.
func (w *work) lookWhereToGo() {
	switch w.sp.Lacks {
	case bench.LacksNothing, bench.LacksZero, bench.LacksEarlier, bench.LacksLine:
	default:
		return
	}
	for i, p := range w.v.Points {
		if !p.Here && len(p.Values) == 0 {
			w.v.Points[i].Go = w.step.ID
		}
	}
}

// nearMost is how many points have room beside the drawing.
const nearMost = 5

// nearPoints are those around the point in work.
func nearPoints(all []PointView) []PointView {
	if len(all) <= nearMost {
		return all
	}
	at := max(0, slices.IndexFunc(all, func(p PointView) bool { return p.Here }))
	from := min(max(0, at-nearMost/2), len(all)-nearMost)
	return all[from : from+nearMost]
}

// lookAtPasses lists the passes so far, newest first.
func (w *work) lookAtPasses() {
	for i := len(w.st.Passes) - 1; i >= 0; i-- {
		p := w.st.Passes[i]
		row := PassView{Number: p.Number, Status: string(p.Status), Why: p.Ended.Reason}
		if p.Drift != nil && p.Status == bench.PassIsVoid {
			row.Why = fmt.Sprintf("the zero moved by %s, %s is allowed", p.Drift.By, p.Drift.Allowed)
		}
		for _, r := range w.results.OfPass(w.b, w.step, p.Number) {
			for _, f := range r.Figures {
				if w.step.Shows(r.Key, f.Name) {
					row.Results = append(row.Results, w.figure(r, f))
				}
			}
			if r.Refused != "" {
				row.Results = append(row.Results, FigureView{Of: w.step.RunTitle(r.Key), Name: "no answer", Value: plain(r.Refused)})
			}
		}
		if p.Status != bench.PassIsVoid {
			if verdict, whole := w.results.Verdict(w.b, w.step, p.Number); whole {
				row.Verdict, row.Mark = string(verdict), MarkOf(verdict)
			}
		}
		w.v.Passes = append(w.v.Passes, row)
	}
}
