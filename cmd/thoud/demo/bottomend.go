package demo

import (
	"math"
	"strconv"
	"strings"

	"thoud/capture/bench"
)

// bottomEnd is the crankshaft: bent, out of balance, with a gap that wants shims; and its rods.
func (e *Engine) bottomEnd() []Part {
	bent, high := 0.042, e.about(130, 20)
	small, big := map[string]float64{}, map[string]float64{}
	piston, pin, rings, clips := map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	open := map[string]float64{}
	for _, c := range e.plan.Cylinders {
		small[c], big[c], open[c] = e.about(142, 0.4), e.about(318, 0.6), e.about(0.1, 0.05)
		piston[c], pin[c], rings[c], clips[c] = e.about(285, 0.5), e.about(62, 0.1), e.about(18, 0.05), 4
	}
	n := float64(len(e.plan.Cylinders))
	reciprocating := func(c string) float64 { return n * (piston[c] + pin[c] + rings[c] + clips[c] + small[c]) }
	first := e.plan.Cylinders[0]
	hung := 0.665*reciprocating(first) - n*small[first] // more than it should be
	factor := func(at At) float64 { return (hung + n*small[at.Cylinder]) / reciprocating(at.Cylinder) }
	gap, shims := e.about(0.031*inch, 0.01), 0.0
	float := func(at At) float64 {
		if at.Point == "pull" {
			return gap - shims
		}
		return 0
	}
	return []Part{{
		Step: "crank-runout",
		Shows: func(at At) float64 {
			return bent * (math.Cos(rad(angleOf(at.Point)-high)) - math.Cos(rad(high))) // against the datum at 0 degrees
		},
		Move: func(At, bench.Result) { bent *= 0.12 + 0.05*math.Abs(e.hand.NormFloat64()) }, // each tap takes out most of it
		Truth: map[string]func(At) float64{
			"eccentricity": func(At) float64 { return bent },
		},
	}, {
		Step: "rod-weighing",
		Shows: func(at At) float64 {
			switch at.Name {
			case "small":
				return small[at.Cylinder]
			case "big":
				return big[at.Cylinder]
			}
			return small[at.Cylinder] + big[at.Cylinder] - open[at.Cylinder]
		},
		Truth: map[string]func(At) float64{"closure": func(at At) float64 { return open[at.Cylinder] }},
	}, {
		Step: "balance",
		Shows: func(at At) float64 {
			m, ok := map[string]map[string]float64{"piston": piston, "pin": pin, "rings": rings, "clips": clips}[at.Name]
			if !ok {
				return hung
			}
			return m[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			if at.Cylinder == first { // one crankshaft: drilled once, by the first of the results
				hung -= e.short(adjustment(r)) * 52 / crankThrow
			}
		},
		Truth: map[string]func(At) float64{"factor_now": factor},
	}, {
		Step: "float-gap", Shows: float,
		Then: func(_ At, r bench.Result) {
			for _, a := range r.Adjustment {
				for _, piece := range a.Pieces {
					shims += e.about(piece, 0.0005)
				}
			}
		},
		Truth: map[string]func(At) float64{"end_float": func(At) float64 { return gap - shims }},
	}, {
		Step: "end-float", Shows: float,
		Truth: map[string]func(At) float64{"end_float": func(At) float64 { return gap - shims }},
	}, {
		Step: "ignition",
		Shows: func(at At) float64 {
			return drop(e.shape.spark(at.Cylinder))
		},
		Move: func(at At, r bench.Result) {
			if now, ok := value(r, "degrees_before"); ok {
				e.shape.sparkAt[at.Cylinder] -= e.short(now - 33)
			}
		},
		Truth: map[string]func(At) float64{"degrees_before": func(at At) float64 { return e.shape.spark(at.Cylinder) }},
	}}
}

// angleOf reads "135deg".
func angleOf(point string) float64 {
	x, err := strconv.ParseFloat(strings.TrimSuffix(point, "deg"), 64)
	if err != nil {
		return 0
	}
	return x
}
