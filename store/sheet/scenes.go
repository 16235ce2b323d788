package sheet

import (
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/drawing"
	"thoud/calc/quantity"
)

// mostDrawings is how many line drawings stand beside a group.
const mostDrawings = 4

// shownDrawing is a line drawing with the step it is of.
type shownDrawing struct {
	Step    Step
	Picture drawing.Picture
}

// belongs says whether a drawing shows a step: by the list of its jobs, else by the step's computation, for plans of one's own.
func belongs(row drawing.Row, st Step) bool {
	if slices.Contains(row.Jobs, st.ID) {
		return true
	}
	want := methodOfDrawing[row.Name]
	return st.Method != "" && slices.Contains(want, st.Method)
}

// methodOfDrawing says which computations a drawing shows, for steps of plans of one's own.
var methodOfDrawing = map[string][]string{
	"crank-runout": {"runout"}, "crank-float": {"end-float", "shim-stack", "shim-both-sides"}, "rod-bearing": {"journal-clearance"},
	"bore": {"bore-map"}, "ring-feeler": {"ring-gap"}, "ring-gaps": {"ring-stagger"}, "deck": {"deck-height"},
	"block-read": {"contact-clearance"}, "cone-seat": {"cone-seat"}, "follower-lift": {"cam-timing"}, "chain": {"chain-slack"},
	"spring": {"valve-spring"}, "valve-piston": {"valve-to-piston"}, "rocker": {"rocker-geometry"}, "lash": {"valve-lash"},
	"bolts": {"bolt-torque", "bolt-preload", "bolt-angle"},
}

// figureOfNumber says under which names of figures or inputs a drawing's number stands, where that is not its own name.
var figureOfNumber = map[string][]string{
	"float": {"resulting", "end_float"}, "protrusion": {"now"}, "clearance": {"min_clearance", "clearance_now"}, "angle": {"closed_angle"},
	"gap": {"gap_at_narrowest"}, "stretch": {"stretch"}, "fitted": {"seat_height", "fitted"}, "slack": {"worst_excess"},
}

// drawingsOf chooses the line drawings of a group: those of its table that a step of it has measured, with that step's figures. A
// drawing that is not of this engine is left out: it would mislead. Of bolts the sheet knows neither the places nor how many there
// are, and draws a twin's.
func (s Sheet) drawingsOf(g group, sys quantity.System) []shownDrawing {
	var out []shownDrawing
	for _, name := range g.Drawings {
		row, ok := drawing.Find(name)
		if !ok || len(out) == mostDrawings || !s.shows(row) {
			continue
		}
		for i := len(g.Steps) - 1; i >= 0; i-- { // the last is the proof
			st := g.Steps[i]
			if !belongs(row, st) || len(st.counting()) == 0 {
				continue
			}
			if pic, err := drawing.Of(name, numbersOf(row, st, sys)); err == nil {
				out = append(out, shownDrawing{st, pic})
			}
			break
		}
	}
	return out
}

// shows reports whether a drawing is of the engine of this sheet.
func (s Sheet) shows(row drawing.Row) bool {
	if s.cylinders == nil {
		return true
	}
	if row.Bolts {
		row.Twin = drawing.TwinCylinders
	}
	return row.IsOf(s.cylinders, s.blocks)
}

// numbersOf finds a drawing's numbers among the figures and inputs of a step's first run.
func numbersOf(row drawing.Row, st Step, sys quantity.System) drawing.Numbers {
	r := st.counting()[0]
	n := drawing.Numbers{Point: strings.Join(notEmpty(r.Key, sideWords(r.Key, st.ID)), "."), Of: map[string]drawing.Number{}}
	for _, d := range row.Drives {
		for _, name := range append([]string{d.Name}, figureOfNumber[d.Name]...) {
			if v, text, ok := r.number(name, d.Kind, sys); ok {
				n.Of[d.Name] = drawing.Number{Value: v, Text: text}
				break
			}
		}
	}
	return n
}

// sideWords are the side, valve and ring that a step's id names and the run's key does not.
func sideWords(key, id string) string {
	var out []string
	for _, w := range strings.Split(id, "-") {
		if slices.Contains([]string{"left", "right", "inlet", "exhaust", "top", "second"}, w) && !strings.Contains(key, w) {
			out = append(out, w)
		}
	}
	return strings.Join(out, ".")
}

// number is a figure of a run, or an input of its computation.
func (r Run) number(name string, kind quantity.Kind, sys quantity.System) (value float64, text string, ok bool) {
	for _, f := range r.Figures {
		if f.Name == name && f.Value != nil && f.Kind == kind {
			return *f.Value, in(f.Shown, sys), true
		}
	}
	if v, found := r.request.Inputs[name]; found && v.Num != nil {
		return v.Num.X, in(calc.ShowFigure(kind, v.Num.X, calc.Grain{}), sys), true
	}
	return 0, "", false
}

// overview is the engine from above, for the first page: a parallel twin's. Of an engine whose cylinders stand otherwise there is
// none: a drawing that is not of this engine would mislead.
func (s Sheet) overview() drawing.Picture {
	if row, _ := drawing.Find("engine-top"); !s.shows(row) {
		return drawing.Picture{}
	}
	pic, err := drawing.Of("engine-top", drawing.Numbers{})
	if err != nil {
		return drawing.Picture{}
	}
	return pic
}
