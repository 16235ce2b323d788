package view

import (
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/drawing"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// byStep are the drawings of steps that bear another name than the job they do, by their ids.
var byStep = map[string]string{
	"guide-clearance": "block-read", "guide-cone": "block-read", "guide-final": "block-read", "guide-mark": "block-lock", "blocks-secured": "block-lock",
	"block-holes": "block-fit", "follower-holes": "block-fit", "follower-fit": "block-fit", "screw-line": "screw-hole",
	"rod-weighing": "weighing", "balance": "weighing", "float-gap": "crank-float",
	"piston-size": "bore", "bore-map": "bore", "bore-final": "bore", "ring-gap-top": "ring-feeler", "ring-gap-second": "ring-feeler",
	"ring-stagger": "ring-gaps", "rings-on": "ring-gaps", "pin-holes": "pin-fit", "boss-fit": "pin-fit", "inner-clips": "clip", "outer-clips": "clip",
	"piston-on": "piston-on", "compressors-off": "barrel-over", "board-out": "barrel-over", "mouths-covered": "engine-top", "mouths-open": "engine-top",
	"deck-final": "deck", "stop-out": "tdc", "tdc-fit": "tdc", "cam-in": "wheel", "cam-inlet": "follower-lift", "cam-exhaust": "follower-lift",
	"cam-final": "follower-lift", "cam-events": "wheel", "cam-correction": "wheel", "cam-key": "wheel", "spring-height": "spring",
	"inlet-to-piston": "valve-piston", "exhaust-to-piston": "valve-piston", "rockers": "rocker", "head-torque": "bolts", "base-bolts-blind": "bolts",
	"base-bolts-hot": "bolts", "valves-in": "spring", "head-on": "head-joint", "pushrods": "rocker", "lash-positions": "lash", "lash-inlet": "lash",
	"lash-exhaust": "lash", "ignition-place": "ignition", "bench-ready": "engine-top", "gauges-off": "engine-top", "head-dry": "head-joint",
	"end-float-final": "crank-float", "compression": "burette",
}

// byMethod are the drawings of steps by the method that they compute with.
var byMethod = map[string]string{
	"contact-clearance": "block-read", "runout": "crank-runout", "centre-line": "crank-runout", "end-float": "crank-float", "shim-stack": "crank-float",
	"rod-weigh": "weighing", "balance": "weighing", "bore-map": "bore", "ring-gap": "ring-feeler", "ring-stagger": "ring-gaps", "deck-height": "deck",
	"tdc-stop": "wheel", "tdc-fit": "tdc", "chain-slack": "chain", "cam-timing": "follower-lift", "cam-events": "wheel", "cam-correction": "wheel",
	"valve-spring": "spring", "valve-to-piston": "valve-piston", "rocker-geometry": "rocker", "valve-lash": "lash", "bolt-preload": "bolts",
	"bolt-angle": "bolts", "bolt-torque": "bolts", "bolt-heat": "bolts", "cone-seat": "cone-seat", "compression": "burette", "piston-position": "ignition",
}

// byView are the drawings of plans that name only which part of the engine a step is about.
var byView = map[string]string{"twin-top": "engine-top", "crank": "crank-runout", "cylinder": "bore", "valve-gear": "follower-lift"}

// drawingOf names the drawing of a step at a point: of those of its job the one that lights the point best. A drawing that is not
// of this plan's engine is none.
func drawingOf(p *plan.Plan, step plan.Step, point string) string {
	best, most := "", -1
	for _, name := range drawing.For(step.ID) {
		if !isOf(p, name) {
			continue
		}
		if n := lights(name, point); n > most {
			best, most = name, n
		}
	}
	if best != "" {
		return best
	}
	named := []string{byStep[step.ID]}
	if step.Compute != nil {
		named = append(named, byMethod[step.Compute.Method])
	}
	for _, name := range append(named, byView[step.View]) {
		if name != "" && isOf(p, name) {
			return name
		}
	}
	return ""
}

// isOf reports whether a drawing is of the engine that a plan builds.
func isOf(p *plan.Plan, name string) bool {
	row, _ := drawing.Find(name)
	return row.IsOf(p.Cylinders, p.Blocks)
}

// lights counts the words of a point that a drawing, or its name, knows.
func lights(name, point string) int {
	row, _ := drawing.Find(name)
	known := wordsOf(name + "." + strings.Join(row.Lights, "."))
	n := 0
	for _, w := range wordsOf(point) {
		if slices.Contains(known, w) {
			n++
		}
	}
	return n
}

func wordsOf(id string) []string {
	return strings.FieldsFunc(id, func(r rune) bool { return r == '.' || r == '-' || r == ' ' })
}

// lookAtDrawing draws this job with this point lit, the arrow of the move that is ordered, and the value that was read
// there. What the drawing does not have is left out rather than drawn wrong.
func (w *work) lookAtDrawing() {
	name, n := drawingOf(w.b.Plan, w.step, w.lit()), drawing.Numbers{Point: w.lit(), Of: map[string]drawing.Number{}}
	if w.v.Face == FaceTrouble && w.v.Gauge != nil {
		name, n = "gauge-gone", drawing.Numbers{Move: "plug in"}
	}
	row, ok := drawing.Find(name)
	if !ok {
		return
	}
	for _, r := range w.v.Rows {
		if r.First && slices.Contains(row.Moves, r.Move) {
			n.Move = r.Move
		}
	}
	if n.Move == "" && w.aimed && slices.Contains(row.Moves, "tighten") {
		n.Move = "tighten"
	}
	n.Is = choices(row, w.step)
	if row.Bolts {
		n.Bolts = w.bolts()
		if !isOf(w.b.Plan, "engine-top") { // how the bores lie among the bolts is known of a twin alone
			n.Is["bores"] = "none"
		}
	}
	numbers := [2]drawing.Numbers{n, n}
	for i, sys := range []quantity.System{quantity.Metric, quantity.Inch} {
		if live, ok := w.liveNumber(row, sys); ok {
			numbers[i].Of = map[string]drawing.Number{row.Live: live}
			numbers[i].Follow = w.v.Reads && w.lit() == w.point()
		}
	}
	if row.Pieces {
		for i := range numbers {
			numbers[i].Pieces = w.pieces()
		}
	}
	w.v.Scene = scene(name, numbers)
}

// noFigure stands where the gauge's value comes.
const noFigure = "– – –"

// liveNumber is the number that the gauge of this job reads: what was read here last, else a place kept for what it shows.
func (w *work) liveNumber(row drawing.Row, sys quantity.System) (drawing.Number, bool) {
	d := driveOf(row, row.Live)
	if row.Live == "" {
		return drawing.Number{}, false
	}
	if taken, ok := w.valueAt(w.lit()); ok && d.Kind == taken.Kind() {
		return drawing.Number{Value: taken.Float(), Text: calc.ShowReading(taken).In(sys)}, true
	}
	if w.v.Reads && w.lit() == w.point() && d.Kind == w.kind() {
		return drawing.Number{Value: d.Usual, Text: noFigure}, true
	}
	return drawing.Number{}, false
}

// choices answers the questions of a drawing where the name of the step does, "base-bolts" are those of the base, or what it
// finds the top against.
func choices(row drawing.Row, step plan.Step) map[string]string {
	out := map[string]string{}
	for _, c := range row.Choices {
		named := wordsOf(step.ID)
		if c.Name == stopChoice {
			named = append(named, stopWords(step)...)
		}
		for _, v := range c.Of {
			if slices.Contains(named, v) {
				out[c.Name] = v
			}
		}
		if last := c.Of[len(c.Of)-1]; c.Name == stopChoice && out[c.Name] == "" && step.Compute != nil && step.Compute.Method == "tdc-stop" {
			out[c.Name] = last
		}
	}
	return out
}

// stopChoice is the question of a drawing whether the top is found against a stop, and which.
const stopChoice = "stop"

// stopWords are the words of what goes in or comes out at a step: its stop is among them.
func stopWords(step plan.Step) []string {
	var out []string
	for _, it := range step.Items {
		out = append(out, wordsOf(it.Name)...)
	}
	for _, name := range step.Out {
		out = append(out, wordsOf(name)...)
	}
	return out
}

func driveOf(row drawing.Row, name string) drawing.Drive {
	for _, d := range row.Drives {
		if d.Name == name {
			return d
		}
	}
	return drawing.Drive{}
}

// valueAt is what was last read at a point, not withdrawn.
func (w *work) valueAt(point string) (quantity.Value, bool) {
	for i := len(w.st.Passes) - 1; i >= 0; i-- {
		if p := w.st.Passes[i]; p.Status != bench.PassIsVoid {
			if r, ok := p.Standing(point, max(w.sp.Place.Seating, 1)); ok {
				return r.Value, true
			}
		}
	}
	return quantity.Value{}, false
}

// pieces are the temporary items that are in the engine.
func (w *work) pieces() []drawing.Piece {
	var out []drawing.Piece
	for i, t := range w.b.Inside() {
		out = append(out, drawing.Piece{No: i + 1, What: t.Name, Where: t.Name})
	}
	return out
}
