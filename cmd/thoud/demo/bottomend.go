package demo

import (
	"math"
	"strconv"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// bottomEnd is the crankshaft: bent, with a gap that wants shims.
func (e *Engine) bottomEnd() []Part {
	bent, high := 0.042, e.about(130, 20)
	f := &endFloat{e: e, gap: e.about(0.031*inch, 0.01)}
	wobble := func(d float64) float64 { return bent * (math.Cos(rad(d-high)) - math.Cos(rad(high))) } // against the datum at 0 degrees
	return []Part{{
		Step: "ready", Shows: func(At) float64 { return 20 + e.shape.warm },
	}, {
		Step:  "crank-runout",
		Shows: func(at At) float64 { return wobble(angleOf(at.Point)) },
		Curve: &Curve{From: 0, To: 360, Wheel: func() float64 { return 0 }, Of: func(_ At, d float64) float64 { return wobble(d) }},
		Move:  func(At, bench.Result) { bent *= 0.12 + 0.05*math.Abs(e.hand.NormFloat64()) }, // each tap takes out most of it
		Truth: map[string]func(At) float64{
			"eccentricity": func(At) float64 { return bent },
		},
	}, {
		Step: "end-float", Shows: f.shows, Move: f.move, Truth: f.truth(),
	}, {
		Step: "cases-closed", Shows: f.shows, Truth: f.truth(),
	}, {
		Step: "ignition",
		Shows: func(at At) float64 {
			if e.chosen("wheel", "eye") { // the wheel is typed: degrees that are to go to the top
				return e.shape.spark(at.Cylinder)
			}
			return drop(e.shape.spark(at.Cylinder))
		},
		Move: func(at At, r bench.Result) {
			for _, figure := range []string{"degrees_before", "mean"} { // by the piston, by the wheel
				if now, ok := value(r, figure); ok && at.Cylinder != "" && at.Name != "drop" {
					e.shape.sparkAt[at.Cylinder] -= e.short(now - 33)
				}
			}
		},
		Truth: map[string]func(At) float64{
			"degrees_before": func(at At) float64 { return e.shape.spark(at.Cylinder) },
			"drop_before": func(at At) float64 {
				if at.Name != "drop" {
					return math.NaN()
				}
				return drop(e.shape.spark(at.Cylinder))
			},
		},
	}, {
		Step: "first-start",
		Shows: func(at At) float64 {
			if at.Point == "oil" {
				return 9
			}
			return 21
		},
	}}
}

// endFloat is the room that the crankshaft has in the cases, and where its middle is.
type endFloat struct {
	e           *Engine
	gap         float64 // in all, without shims
	left, right float64 // shims fitted
}

func (f *endFloat) float() float64 { return f.gap - f.left - f.right }

// toMiddle is how far it is from hard over to the left, without shims, to the middle of the mouth.
func (f *endFloat) toMiddle() float64 { return f.gap/2 + 0.05 }

const (
	mouthToRod     = 20.0 // from the mouth's left edge to the rod, hard over to the left
	camshaftsFloat = 0.007 * inch
)

func (f *endFloat) shows(at At) float64 {
	switch at.Point {
	case "bare":
		return f.gap
	case "side.left":
		return mouthToRod
	case "side.right":
		return mouthToRod + 2*f.toMiddle()
	case "run.left":
		return mouthToRod + f.left
	case "run.right":
		return mouthToRod + 2*f.toMiddle() - f.left
	case "camshaft":
		return camshaftsFloat
	}
	return f.float()
}

// move fits the shims that were told, and changes them where the float or the middle is out.
func (f *endFloat) move(at At, r bench.Result) {
	bare := f.left+f.right == 0
	switch {
	case at.Name == "" && bare: // one stack
		for _, piece := range pieces(r) {
			f.right += f.e.about(piece, 0.0005)
		}
	case at.Name == "shims" && bare:
		for side, sum := range map[string]*float64{"left": &f.left, "right": &f.right} {
			chosen, _ := r.Figure(side)
			for _, piece := range chosen.List {
				*sum += f.e.about(piece, 0.0005)
			}
		}
	case at.Name == "float" && r.Verdict == calc.VerdictOut:
		if now, ok := value(r, "mean"); ok {
			f.right += now - 0.008*inch
		}
	case at.Name == "middle" && r.Verdict == calc.VerdictOut:
		if off, ok := value(r, "off_centre"); ok {
			f.left, f.right = f.left+off, f.right-off
		}
	}
}

func (f *endFloat) truth() map[string]func(At) float64 {
	return map[string]func(At) float64{
		"mean": func(at At) float64 {
			if at.Name == "camshaft" {
				return camshaftsFloat
			}
			return f.float()
		},
		"off_centre": func(at At) float64 {
			switch at.Name {
			case "middle":
				return f.toMiddle() - f.left - f.float()/2
			case "room":
				return -f.toMiddle()
			}
			return f.toMiddle()
		},
	}
}

// pieces are the shims of a result's first order that has any.
func pieces(r bench.Result) []float64 {
	for _, a := range r.Adjustment {
		if len(a.Pieces) > 0 {
			return a.Pieces
		}
	}
	return nil
}

// angleOf reads "135deg", and "at-5deg".
func angleOf(point string) float64 {
	point = point[strings.LastIndexByte(point, '.')+1:]
	x, err := strconv.ParseFloat(strings.TrimPrefix(strings.TrimSuffix(point, "deg"), "at"), 64)
	if err != nil {
		return 0
	}
	return x
}
