package demo

import (
	"math"

	"thoud/capture/bench"
)

// bolts are the base bolts, brought to force by their stretch.
func (e *Engine) bolts() []Part {
	stretch := map[string]float64{}
	now := func(bolt string) float64 {
		if _, ok := stretch[bolt]; !ok {
			stretch[bolt] = e.about(0.120, 0.004)
		}
		return stretch[bolt]
	}
	return []Part{{
		Step:  "base-bolts",
		Shows: func(at At) float64 { return now(at.Point) },
		Move: func(at At, r bench.Result) {
			if _, bolt := stretch[at.Point]; bolt {
				stretch[at.Point] += e.short(adjustment(r))
			}
		},
		Truth: map[string]func(At) float64{"preload": func(at At) float64 {
			// Waist and thread in series, E·A/L each; the thread's stress area is π/4·(d − 0.9743/n)² (ASME B1.1).
			waist := 206000 * math.Pi / 4 * 7.8 * 7.8 / 62
			thread := 206000 * math.Pi / 4 * math.Pow((0.375-0.9743/24)*inch, 2) / 14
			return stretch[at.Point] / (1/waist + 1/thread)
		}},
	}}
}
