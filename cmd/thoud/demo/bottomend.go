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
	gap, shims := e.about(0.031*inch, 0.01), 0.0
	float := func(at At) float64 {
		if at.Point == "bare" {
			return gap
		}
		return gap - shims
	}
	floats := map[string]func(At) float64{"mean": func(At) float64 { return gap - shims }}
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
		Step: "end-float", Shows: float,
		Move: func(at At, r bench.Result) {
			switch {
			case at.Name == "" && shims == 0: // the stack that was told
				for _, piece := range pieces(r) {
					shims += e.about(piece, 0.0005)
				}
			case at.Name == "float" && r.Verdict == calc.VerdictOut:
				if now, ok := value(r, "mean"); ok {
					shims += now - 0.008*inch
				}
			}
		},
		Truth: floats,
	}, {
		Step: "cases-closed", Shows: float, Truth: floats,
	}, {
		Step:  "ignition",
		Shows: func(at At) float64 { return drop(e.shape.spark(at.Cylinder)) },
		Move: func(at At, r bench.Result) {
			if now, ok := value(r, "degrees_before"); ok && at.Cylinder != "" {
				e.shape.sparkAt[at.Cylinder] -= e.short(now - 33)
			}
		},
		Truth: map[string]func(At) float64{"degrees_before": func(at At) float64 { return e.shape.spark(at.Cylinder) }},
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
