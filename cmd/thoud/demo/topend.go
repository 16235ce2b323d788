package demo

import (
	"thoud/capture/bench"
)

// topEnd is guide blocks and followers, with their fits and the screw that holds them.
func (e *Engine) topEnd() []Part {
	g := &e.shape
	hole, block := map[string]float64{}, map[string]float64{}
	top, bottom := map[string]float64{}, map[string]float64{}
	pilot, seat := map[string]float64{}, map[string]float64{}
	bore, follower := map[string]float64{}, map[string]float64{}
	off := map[string]float64{}
	for _, c := range e.plan.Cylinders {
		hole[c] = e.about(25, 0.003)
		block[c] = hole[c] - e.about(0.001*inch, 0.0008)
		top[c], bottom[c] = e.about(8.35, 0.05), e.about(7.9, 0.05) // scribed too near the base
		pilot[c], seat[c] = e.about(0.21*inch, 0.1), e.about(0.125*inch, 0.03)
		off[c] = 0.0035 * inch
		for _, v := range e.plan.Valves {
			bore[c+v] = e.about(12.7, 0.002)
			follower[c+v] = bore[c+v] - e.about(0.0014*inch, 0.0008)
		}
	}
	clearance := func(at At) float64 { return g.contact[at.Cylinder] - g.blockNow[at.Cylinder] }
	return []Part{{
		Step: "block-holes", Shows: func(at At) float64 { return hole[at.Cylinder] },
	}, {
		Step: "block-fit", Shows: func(at At) float64 { return block[at.Cylinder] },
		Truth: map[string]func(At) float64{"clearance_at_20": func(at At) float64 { return hole[at.Cylinder] - block[at.Cylinder] }},
	}, {
		Step: "follower-holes", Shows: func(at At) float64 { return bore[at.Cylinder+at.Valve] },
	}, {
		Step: "follower-fit", Shows: func(at At) float64 { return follower[at.Cylinder+at.Valve] },
		Truth: map[string]func(At) float64{"clearance_at_20": func(at At) float64 {
			return bore[at.Cylinder+at.Valve] - follower[at.Cylinder+at.Valve]
		}},
	}, {
		Step: "screw-line",
		Shows: func(at At) float64 {
			if at.Name == "top" {
				return top[at.Cylinder]
			}
			return bottom[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			// Scribed anew at the height shown.
			if height, ok := value(r, "scribe_height"); ok {
				whole := top[at.Cylinder] + bottom[at.Cylinder]
				bottom[at.Cylinder] = e.about(height, 0.02)
				top[at.Cylinder] = whole - bottom[at.Cylinder]
			}
		},
		Truth: map[string]func(At) float64{"off_centre": func(at At) float64 { return (bottom[at.Cylinder] - top[at.Cylinder]) / 2 }},
	}, {
		Step: "guide-clearance",
		Shows: func(at At) float64 {
			if at.Name == "contact" {
				g.blockNow[at.Cylinder] = g.contact[at.Cylinder] // the lobes push the block there, and there it stays
			}
			return g.blockNow[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			g.blockNow[at.Cylinder] -= e.short(adjustment(r)) // away from the cam is deeper into the cylinder
		},
		Truth: map[string]func(At) float64{
			"contact":       func(at At) float64 { return g.contact[at.Cylinder] },
			"clearance_now": clearance,
		},
	}, {
		Step: "cone-seat",
		Shows: func(at At) float64 {
			if at.Name == "pilot" {
				return pilot[at.Cylinder]
			}
			return seat[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			pilot[at.Cylinder] += 0.5 // drilled on
		},
	}, {
		Step: "guide-cone",
		Shows: func(at At) float64 {
			// A spot off centre holds the block a little prouder than it was nipped, once.
			g.blockNow[at.Cylinder] += off[at.Cylinder]
			off[at.Cylinder] = 0
			return g.blockNow[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			told := adjustment(r)
			if told <= 0 { // ground too far, or drawn too deep: a new spot, nearer to where it belongs
				g.blockNow[at.Cylinder] = g.contact[at.Cylinder] - e.about(0.050*inch, 0.005)
				return
			}
			g.blockNow[at.Cylinder] -= e.short(told)
		},
		Truth: map[string]func(At) float64{"clearance_now": clearance},
	}}
}
