package demo

import (
	"math"

	"thoud/capture/bench"
)

// bolts are the base bolts, brought to force by their stretch, and the head bolts by torque.
func (e *Engine) bolts() []Part {
	stretch, torque := map[string]float64{}, map[string]float64{}
	now := func(m map[string]float64, bolt string, x, spread float64) float64 {
		if _, ok := m[bolt]; !ok {
			m[bolt] = e.about(x, spread)
		}
		return m[bolt]
	}
	return []Part{{
		Step:  "base-bolts",
		Fresh: func(At) bool { return true }, // on the free bolt
		Shows: func(at At) float64 { return now(stretch, at.Point, 0.118, 0.004) },
		Move:  func(at At, r bench.Result) { stretch[at.Point] += e.short(adjustment(r)) },
		Truth: map[string]func(At) float64{"preload": func(at At) float64 {
			// Waist and thread in series, E·A/L each; the thread's stress area is π/4·(d − 0.9743/n)² (ASME B1.1).
			waist := 206000 * math.Pi / 4 * 7.8 * 7.8 / 60
			thread := 206000 * math.Pi / 4 * math.Pow((0.375-0.9743/24)*inch, 2) / 15
			return stretch[at.Point] / (1/waist + 1/thread)
		}},
	}, {
		Step:  "head-bolts",
		Shows: func(at At) float64 { return now(torque, at.Point, 33, 0.8) },
	}}
}
