package demo

import (
	"fmt"
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// side is the guide block that a point or a run is about: of a cylinder, or of a camshaft where there are two.
func side(at At) string {
	if at.Cylinder != "" {
		return at.Cylinder
	}
	return at.Valve
}

// bringTogether grinds the block nearer to the cam by as much as the two lie apart; where that one stands as far from the cam as
// it should already, the other is made anew, for who grinds on then drives both to their limit.
func (e *Engine) bringTogether(r bench.Result, anew func(block string)) {
	apart, ok := value(r, "range")
	greatest, found := value(r, "greatest_at")
	if !ok || !found || len(e.plan.Blocks) != 2 {
		return
	}
	g := &e.shape
	near, far := e.plan.Blocks[2-int(greatest)], e.plan.Blocks[int(greatest)-1]
	if g.contact[near]-g.blockNow[near] < 0.044*inch {
		g.blockNow[near] -= e.short(apart)
		return
	}
	anew(far)
}

// topEnd is guide blocks and followers, with their fits and the screw that holds them.
func (e *Engine) topEnd() []Part {
	g := &e.shape
	hole, block := map[string]float64{}, map[string]float64{}
	pilot, seat := map[string]float64{}, map[string]float64{}
	bore, follower := map[string]float64{}, map[string]float64{}
	off, punched := map[string]float64{}, map[string]float64{}
	makeBlock := func(c string) {
		hole[c] = e.about(26, 0.003)
		block[c] = hole[c] - e.about(0.001*inch, 0.0008)
		pilot[c], seat[c] = e.about(0.190*inch, 0.03), e.about(0.139*inch, 0.02)
		off[c] = 0.0035 * inch
		punched[c] = e.about(0, 0.06) // how far above the middle the hole came out
	}
	for _, c := range e.plan.Cylinders {
		if contains(e.plan.Blocks, c) {
			makeBlock(c)
		}
		for _, v := range e.plan.Valves {
			bore[c+v] = e.about(12, 0.002)
			follower[c+v] = bore[c+v] - e.about(0.0014*inch, 0.0008)
		}
	}
	for _, b := range e.plan.Blocks {
		if !contains(e.plan.Cylinders, b) {
			makeBlock(b)
		}
	}
	clearance := func(at At) float64 { return g.contact[side(at)] - g.blockNow[side(at)] }
	touched := map[string]bool{} // passes after which a block was ground or made anew by its own order
	anew := func(block string) { g.blockNow[block] = g.contact[block] - e.about(0.044*inch, 0.005) }
	// grind takes off the cam side what was told; a block that stands too far from the cam, or too near that limit to tell, is
	// made anew. Where both stand well and only lie too far apart, or too near the limit of that to tell, they are brought
	// together: to measure again what was not moved tells the same again.
	grind := func(step string) func(At, bench.Result) {
		return func(at At, r bench.Result) {
			pass := fmt.Sprintf("%s/%d", step, at.Pass)
			switch told := adjustment(r); {
			case at.Name == "clearance-now-spread" && !touched[pass]:
				e.bringTogether(r, anew)
			case at.Name != "":
			case told <= 0 && r.Verdict != calc.VerdictIn:
				anew(side(at))
				touched[pass] = true
			case r.Verdict != calc.VerdictIn:
				g.blockNow[side(at)] -= e.short(told)
				touched[pass] = touched[pass] || told != 0
			}
		}
	}
	truth := map[string]func(At) float64{"clearance_now": clearance}
	// contact is finding where the lobes touch, and moving the block away from there; the short plan has it by another name.
	contact := func(step string) Part {
		return Part{
			Step: step,
			Shows: func(at At) float64 {
				if at.Name == "contact" {
					g.blockNow[side(at)] = g.contact[side(at)] // the lobes push the block there, and there it stays
				}
				return g.blockNow[side(at)]
			},
			Move: func(at At, r bench.Result) {
				g.blockNow[side(at)] -= e.short(adjustment(r)) // away from the cam is deeper into the cylinder
			},
			Truth: map[string]func(At) float64{
				"contact":       func(at At) float64 { return g.contact[side(at)] },
				"clearance_now": clearance,
			},
		}
	}
	return []Part{{
		Step: "block-fit",
		Shows: func(at At) float64 {
			switch at.Name {
			case "seat":
				return g.read(hole[side(at)], ofIron)
			case "block":
				return g.read(block[side(at)], ofBronze)
			case "hole":
				return bore[at.Cylinder+at.Valve]
			}
			return follower[at.Cylinder+at.Valve]
		},
		Truth: map[string]func(At) float64{"clearance": func(at At) float64 {
			if at.Name == "follower" {
				return math.NaN() // of the one that is put there, which the result says
			}
			return g.read(hole[side(at)], ofIron) - g.read(block[side(at)], ofBronze)
		}},
	}, screwHole(punched), contact("block-contact"), contact("guide-clearance"), coneSeat(pilot, seat), {
		Step: "block-proof",
		Shows: func(at At) float64 {
			// A spot off centre holds the block a little prouder than it was nipped, once.
			g.blockNow[side(at)] += off[side(at)]
			off[side(at)] = 0
			if strings.HasSuffix(at.Name, "corner") {
				return g.blockNow[side(at)] + 0.031*inch
			}
			return g.blockNow[side(at)]
		},
		Move: grind("block-proof"), Truth: truth,
	}, {
		Step: "blocks-locked", Shows: func(at At) float64 { return g.blockNow[side(at)] }, Move: grind("blocks-locked"), Truth: truth,
	}}
}

// screwHole is the flange, 16.2 mm thick, and the hole of 5.4 mm that is drilled into its edge; punched is how far above the
// middle it came out.
func screwHole(punched map[string]float64) Part {
	const flange = 16.2
	return Part{
		Step: "screw-hole",
		Shows: func(at At) float64 {
			switch at.Name { // from either face to the near edge of a hole of 5.4 mm
			case "top":
				return flange/2 - punched[side(at)] - 2.7
			case "foot":
				return flange/2 + punched[side(at)] - 2.7
			}
			return flange
		},
		Move: func(At, bench.Result) {}, // punched and drilled: the holes are read in the next pass
		Truth: map[string]func(At) float64{
			"scribe_height": func(at At) float64 {
				if at.Name != "thickness" {
					return math.NaN()
				}
				return flange / 2
			},
			"off_centre": func(at At) float64 { return punched[side(at)] },
		},
	}
}

// coneSeat is the two holes that are drilled into a block, a small one and the seat in its mouth.
func coneSeat(pilot, seat map[string]float64) Part {
	return Part{
		Step: "block-seat",
		Shows: func(at At) float64 {
			if at.Name == "pilot" {
				return pilot[side(at)]
			}
			return seat[side(at)]
		},
		Move: func(at At, r bench.Result) {
			if at.Name == "" && r.Verdict != calc.VerdictIn {
				pilot[side(at)] += 0.5 // drilled on
			}
		},
		Truth: map[string]func(At) float64{"difference": func(at At) float64 {
			if at.Name != "wall" {
				return math.NaN()
			}
			return 0.310*inch - pilot[side(at)]
		}},
	}
}
