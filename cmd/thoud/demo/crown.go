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
	gapTop, gapSecond, side := map[string]float64{}, map[string]float64{}, map[string]float64{}
	small, boss, pin := map[string]float64{}, map[string]float64{}, map[string]float64{}
	deck, rock, chamber, dome := map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	for i, c := range e.plan.Cylinders {
		gapTop[c], gapSecond[c] = e.about(0.0105*inch, 0.01), e.about(0.0120*inch, 0.01) // still to be filed
		side[c+"top"], side[c+"second"] = e.about(0.0019*inch, 0.003), e.about(0.0021*inch, 0.003)
		pin[c] = e.about(18, 0.0006)
		small[c], boss[c] = pin[c]+e.about(0.00075*inch, 0.0004), pin[c]+e.about(0.0002*inch, 0.0002)
		deck[c], rock[c] = e.about(0.32+0.21*float64(i), 0.01), e.about(0.1, 0.02)
		chamber[c], dome[c] = e.about(36, 0.15), e.about(3.5, 0.1)
	}
	narrowest := func(c string) float64 { return g.boreAt(c, 75, false) }
	ring := func(gap map[string]float64, factor float64) (func(At, bench.Result), map[string]func(At) float64) {
		careful := false
		return func(at At, r bench.Result) {
				told := adjustment(r)
				switch {
				case r.Verdict == calc.VerdictTooClose:
					gap[at.Cylinder] += 0.0006 * inch // a touch more decides it
				case r.Verdict != calc.VerdictIn && !careful:
					// The first ring is filed carefully: right up to the limit.
					careful = true
					gap[at.Cylinder] += told - 0.0005*inch
				case r.Verdict != calc.VerdictIn:
					gap[at.Cylinder] += e.about(told+0.0004*inch, 0.004)
				}
			}, map[string]func(At) float64{"file_off": func(at At) float64 {
				here := gap[at.Cylinder] - math.Pi*(g.boreAt(at.Cylinder, 40, true)-narrowest(at.Cylinder))
				return factor*narrowest(at.Cylinder) - here
			}}
	}
	moveTop, truthTop := ring(gapTop, 0.0045)
	moveSecond, truthSecond := ring(gapSecond, 0.0050)
	return []Part{{
		Step: "piston-size", Shows: func(at At) float64 { return g.piston[at.Cylinder] },
	}, {
		Step: "bore-map",
		Shows: func(at At) float64 {
			depth, axis, _ := strings.Cut(at.Name, ".")
			return g.boreAt(at.Cylinder, lengthOf(depth), axis == "thrust")
		},
		Move: func(at At, r bench.Result) {
			g.bore[at.Cylinder] += math.Max(0, e.about(0.97*adjustment(r), 0.0005))
			g.taper[at.Cylinder] *= 0.5
		},
		Truth: map[string]func(At) float64{
			"clearance_min": func(at At) float64 { return narrowest(at.Cylinder) - g.piston[at.Cylinder] },
			"taper":         func(at At) float64 { return g.taper[at.Cylinder] },
		},
	}, {
		Step: "ring-gap-top", Shows: func(at At) float64 { return gapTop[at.Cylinder] }, Move: moveTop, Truth: truthTop,
	}, {
		Step: "ring-gap-second", Shows: func(at At) float64 { return gapSecond[at.Cylinder] }, Move: moveSecond, Truth: truthSecond,
	}, {
		Step: "ring-side", Shows: func(at At) float64 { return side[at.Cylinder+at.Name] },
	}, {
		Step: "pin-holes",
		Shows: func(at At) float64 {
			if at.Name == "boss" {
				return boss[at.Cylinder]
			}
			return small[at.Cylinder]
		},
	}, {
		Step: "pin-fit", Shows: func(at At) float64 { return pin[at.Cylinder] },
		Truth: map[string]func(At) float64{"clearance_at_20": func(at At) float64 { return small[at.Cylinder] - pin[at.Cylinder] }},
	}, {
		Step:  "boss-fit",
		Truth: map[string]func(At) float64{"clearance_at_20": func(at At) float64 { return boss[at.Cylinder] - pin[at.Cylinder] }},
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
		Step: "compression",
		Shows: func(at At) float64 {
			if at.Name == "crown" {
				return dome[at.Cylinder]
			}
			return chamber[at.Cylinder]
		},
		Truth: map[string]func(At) float64{
			"squish": func(at At) float64 { return deck[at.Cylinder] + 1 },
			"ratio": func(at At) float64 {
				area := math.Pi / 4 * 7.1 * 7.1 // cm²; the nominal bore, as the plan has it
				over := chamber[at.Cylinder] + math.Pi/4*7.25*7.25*0.1 + area*deck[at.Cylinder]/10 - dome[at.Cylinder]
				return 1 + area*8.2/over
			},
		},
	}}
}

// lengthOf reads "40mm".
func lengthOf(s string) float64 { return angleOf(strings.TrimSuffix(s, "mm") + "deg") }
