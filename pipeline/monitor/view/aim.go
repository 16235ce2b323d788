package view

import (
	"thoud/calc"
	"thoud/capture/bench"
)

// Aim says where the part at a point must come to rest before anything was read there; nil where that is not known.
type Aim func(bench.State, bench.Results, bench.Place) *bench.Band

// lookAtAim lays the rule of a point that was not read yet: a bolt is told its way before its first reading. The move begins
// where the zero was set.
func (w *work) lookAtAim() {
	if w.v.Rule != nil || w.aim == nil || w.point() == "" || w.sp.OnDatum() || w.sp.Zero == nil || w.step.Compute == nil {
		return
	}
	if _, read := w.valueAt(w.point()); read {
		return
	}
	band := w.aim(w.sc.State, w.results, w.sp.Place)
	if band == nil {
		return
	}
	own := *band
	from := w.sp.Zero.Shows.Float()
	own.Now = &from
	c := w.step.Compute
	up, down := endWords(bench.Result{Request: calc.Request{Method: c.Method, Words: c.Words}, Result: calc.Result{Method: c.Method}})
	w.v.Rule, w.aimed = newRule(own, w.kind(), w.resolution(), up, down), true
}
