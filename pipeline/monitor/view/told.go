package view

import (
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// lookAtTold lists what is worked out before the first reading: the angle to turn a bolt by, the drill to take, the stop to
// set. It stands on the screen until the step has a verdict of its own.
func (w *work) lookAtTold() {
	if len(w.v.Rows) > 0 || w.v.Face != FaceInstruct {
		return
	}
	for _, r := range w.results.Before(w.b, w.step) {
		w.v.Told = append(w.v.Told, w.toldOf(r)...)
	}
}

// toldOf is one result: its orders where it has any, else the figures that the step shows.
func (w *work) toldOf(r bench.Result) []Text {
	side := w.sideOf(r.Key)
	if r.Refused != "" {
		return []Text{plain(side + "no answer: " + r.Refused)}
	}
	var out []Text
	for _, a := range r.Orders() {
		if a.Target {
			out = append(out, beforeBoth(side, a.Words))
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, f := range r.Figures {
		if w.step.Shows(r.Key, f.Name) {
			f.Shown = f.Shown.Counted(w.step.FigureCounts(r.Key, f.Name))
			out = append(out, figureWords(side, f))
		}
	}
	return out
}

func figureWords(side string, f calc.FigureResult) Text {
	name := calc.FigureWords(f.Name)
	if last := name[len(name)-1]; last >= '0' && last <= '9' {
		name += ":" // "inlet 1: 105.6°"
	}
	return beforeBoth(side+name+" ", f.Shown)
}

// sideOf is the cylinder or valve that a result is about, "left: "; its own name tells nothing to a builder.
func (w *work) sideOf(key string) string {
	if c := w.step.ComputeOf(key); c != nil && c.Called != "" {
		key = w.step.CalledKey(key)
	} else if c != nil && c.Name != "" {
		key = strings.TrimSuffix(strings.TrimSuffix(key, c.Name), ".")
	}
	if key == "" {
		return ""
	}
	return runTitle(key) + ": "
}
