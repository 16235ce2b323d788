package demo

import (
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// crown is cylinder, piston, rings and pin, and what they make together: deck and compression.
func (e *Engine) crown() []Part {
	g := &e.shape
	gap, side := map[string]float64{}, map[string]float64{} // by cylinder and ring
	small, boss, pin := map[string]float64{}, map[string]float64{}, map[string]float64{}
	deck, rock, dome := map[string]float64{}, map[string]float64{}, map[string]float64{}
	leak := map[string]float64{}
	share := map[string]float64{"top": 0.0045, "second": 0.0050}
	for i, c := range e.plan.Cylinders {
		for ring := range share {
			side[c+ring] = e.about(0.0020*inch, 0.003)
		}
		gap[c+"top"], gap[c+"second"] = e.about(0.0110*inch, 0.01), e.about(0.0125*inch, 0.01) // still to be filed
		pin[c] = e.about(19, 0.0006)
		small[c], boss[c] = pin[c]+e.about(0.00075*inch, 0.0004), pin[c]+e.about(0.0002*inch, 0.0002)
		deck[c], rock[c] = e.about(0.29+0.06*float64(i), 0.004), e.about(0.05, 0.01)
		dome[c] = e.about(2.1, 0.1)
		leak[c] = e.about(4.5, 0.5)
	}
	narrowest := func(c string) float64 { return g.boreAt(c, 75, false) }
	wanted := func(ring string) float64 { return 73.4*share[ring] + 0.0015*inch }
	careful := false
	file := func(at At, r bench.Result) {
		ring, told := "top", adjustment(r)
		if at.Name == "second" {
			ring = "second"
		} else if at.Name != "" {
			return
		}
		switch {
		case r.Verdict == calc.VerdictTooClose:
			gap[at.Cylinder+ring] += 0.0006 * inch // a touch more decides it
		case r.Verdict == calc.VerdictOut && !careful:
			// The first ring is filed carefully: right up to the limit.
			careful = true
			gap[at.Cylinder+ring] += told - 0.0015*inch
		case r.Verdict == calc.VerdictOut:
			gap[at.Cylinder+ring] += e.about(told, 0.004)
		}
	}
	depth := func(c string) float64 { return deck[c] }
	area := math.Pi / 4 * 7.34 * 7.34 // cm²; the nominal bore, as the plan has it
	return []Part{{
		Step: "bores",
		Shows: func(at At) float64 {
			if at.Name == "piston" {
				return g.read(g.piston[at.Cylinder], ofPiston)
			}
			depth, axis, _ := strings.Cut(at.Name, ".")
			return g.read(g.boreAt(at.Cylinder, lengthOf(depth), axis == "thrust"), ofIron)
		},
		Move: func(at At, r bench.Result) {
			if at.Name != "fit" || r.Verdict == calc.VerdictIn {
				return
			}
			g.bore[at.Cylinder] += math.Max(0, e.about(0.97*adjustment(r), 0.0005))
			g.taper[at.Cylinder] *= 0.5
		},
		Truth: map[string]func(At) float64{
			"clearance_min": func(at At) float64 { return narrowest(at.Cylinder) - g.piston[at.Cylinder] },
			"taper":         func(at At) float64 { return g.taper[at.Cylinder] },
		},
	}, {
		Step: "rings",
		Shows: func(at At) float64 {
			ring, what, _ := strings.Cut(at.Name, ".")
			if what == "side" {
				return side[at.Cylinder+ring]
			}
			return gap[at.Cylinder+ring]
		},
		Move: file,
		Truth: map[string]func(At) float64{"file_off": func(at At) float64 {
			ring := "top"
			if at.Name == "second" {
				ring = "second"
			}
			here := gap[at.Cylinder+ring] - math.Pi*(g.boreAt(at.Cylinder, 40, true)-narrowest(at.Cylinder))
			return wanted(ring) - here
		}},
	}, {
		Step: "pins",
		Shows: func(at At) float64 {
			switch at.Name {
			case "boss":
				return boss[at.Cylinder]
			case "pin":
				return pin[at.Cylinder]
			}
			return small[at.Cylinder]
		},
		Truth: map[string]func(At) float64{"clearance": func(at At) float64 {
			if at.Name == "boss" {
				return boss[at.Cylinder] - pin[at.Cylinder]
			}
			return small[at.Cylinder] - pin[at.Cylinder]
		}},
	}, {
		Step: "deck",
		Shows: func(at At) float64 {
			if at.Name == "front" {
				return deck[at.Cylinder] + rock[at.Cylinder]
			}
			return deck[at.Cylinder] - rock[at.Cylinder]
		},
		Truth: map[string]func(At) float64{"deck": func(at At) float64 { return deck[at.Cylinder] }},
	}, {
		Step:  "compression",
		Shows: func(at At) float64 { return area*1.2 - dome[at.Cylinder] },
		Truth: map[string]func(At) float64{
			"squish": func(at At) float64 {
				if at.Cylinder == "" {
					return math.NaN() // of the mean of both sides
				}
				return depth(at.Cylinder) + 1
			},
			"ratio": func(at At) float64 {
				if at.Cylinder == "" {
					return math.NaN()
				}
				over := g.chamber[at.Cylinder] + math.Pi/4*7.5*7.5*0.1 + area*depth(at.Cylinder)/10 - dome[at.Cylinder]
				return 1 + area*7.96/over
			},
		},
	}, {
		Step:  "wash-barrels",
		Shows: func(at At) float64 { return g.read(g.boreAt(at.Cylinder, 40, true), ofIron) },
		Truth: map[string]func(At) float64{"clearance": func(at At) float64 { // as it is in this shop
			return g.read(g.boreAt(at.Cylinder, 40, true), ofIron) - g.read(g.piston[at.Cylinder], ofPiston)
		}},
	}, {
		Step: "leak-down", Shows: func(at At) float64 { return leak[at.Cylinder] },
	}, {
		Step: "leak-again", Shows: func(at At) float64 { return leak[at.Cylinder] + 0.5 }, // run in, hardly worse
	}}
}

// lengthOf reads "40mm".
func lengthOf(s string) float64 { return angleOf(strings.TrimSuffix(s, "mm") + "deg") }
