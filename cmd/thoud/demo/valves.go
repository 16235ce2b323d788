package demo

import (
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// valveGear is what springs, pockets, rockers and adjusters truly are, by cylinder and valve.
type valveGear struct {
	e                           *Engine
	outer, rocker, lash, pocket map[string]float64
}

// The rockers of the example engine, as its plan has them, and the lash wanted in inches.
const rockerArm, fullLift = 37, 9.1

func lashWanted(valve string) float64 {
	if valve == "exhaust" {
		return 0.006 * inch
	}
	return 0.004 * inch
}

// valves is the valve gear: springs, pockets, rockers and lash.
func (e *Engine) valves() []Part {
	v := &valveGear{e: e, outer: map[string]float64{}, rocker: map[string]float64{}, lash: map[string]float64{}, pocket: map[string]float64{}}
	for _, c := range e.plan.Cylinders {
		for _, valve := range e.plan.Valves {
			v.outer[c+valve] = e.about(39.9, 0.04)
			v.rocker[c+valve] = e.about(7.06, 0.3)
			v.lash[c+valve] = e.about(0.013*inch, 0.02)
		}
		v.pocket[c+"inlet"], v.pocket[c+"exhaust"] = e.about(3.9, 0.02), e.about(4.75, 0.02) // valve shut, piston at its top
	}
	v.rocker[e.plan.Cylinders[0]+"exhaust"] = 12.4 // one pedestal stands too high
	return []Part{v.springs(), v.toPiston(), v.rockers(), v.adjusters()}
}

func (v *valveGear) springs() Part {
	return Part{
		Step:  "springs",
		Shows: func(at At) float64 { return v.outer[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			if at.Valve != "" && r.Verdict != calc.VerdictIn {
				for _, piece := range pieces(r) {
					v.outer[at.Cylinder+at.Valve] -= piece
				}
			}
		},
		Truth: map[string]func(At) float64{"seat": func(at At) float64 {
			h := v.outer[at.Cylinder+at.Valve]
			return 27.6*(48-h) + 12.8*(44-h+1.5)
		}},
	}
}

// open is the lift of the first cylinder's valve; the others take it over.
func (v *valveGear) open(valve string, d float64) float64 {
	first := v.e.plan.Cylinders[0]
	if valve == "exhaust" {
		return lobe(d, v.e.shape.centre(first, false), outletValve)
	}
	return lobe(d, v.e.shape.centre(first, true), inletValve)
}

// room is how far a valve goes by hand to the piston.
func (v *valveGear) room(c, valve string, d float64) float64 {
	return v.pocket[c+valve] + drop(d)*math.Cos(rad(valveLean)) - v.open(valve, d)
}

// valveOf is the valve of a result; a step's own computation is the inlet's.
func valveOf(at At) string {
	if at.Valve == "" {
		return "inlet"
	}
	return at.Valve
}

func (v *valveGear) toPiston() Part {
	return Part{
		Step: "valve-to-piston",
		Shows: func(at At) float64 {
			switch {
			case at.Name == "lift":
				return 0
			case at.Name == "push" && at.Valve == "exhaust":
				return v.room(at.Cylinder, at.Valve, -8)
			case at.Name == "push":
				return v.room(at.Cylinder, at.Valve, 8)
			}
			return v.room(at.Cylinder, at.Valve, angleOf(at.Name))
		},
		Curve: &Curve{From: -60, To: 60, Wheel: func() float64 { return v.e.shape.wheel },
			Of: func(at At, d float64) float64 { return v.open(at.Valve, d) }},
		Move: v.deepen,
		Truth: map[string]func(At) float64{"min_clearance": func(at At) float64 {
			least := math.Inf(1)
			for d := -40.0; d <= 40; d += 0.05 {
				least = math.Min(least, v.room(at.Cylinder, valveOf(at), d))
			}
			return least
		}},
	}
}

// deepen cuts the pocket that was told, or the one with less room where both sides lie too far apart.
func (v *valveGear) deepen(at At, r bench.Result) {
	if at.Cylinder != "" && r.Verdict != calc.VerdictIn {
		v.pocket[at.Cylinder+valveOf(at)] += math.Max(0, v.e.short(adjustment(r))) + 0.1
	}
	if at.Name != "min-clearance-spread" || r.Verdict != calc.VerdictOut {
		return
	}
	tight := v.e.plan.Cylinders[0]
	for _, c := range v.e.plan.Cylinders {
		if v.pocket[c+"inlet"] < v.pocket[tight+"inlet"] {
			tight = c
		}
	}
	if apart, ok := value(r, "range"); ok {
		v.pocket[tight+"inlet"] += apart
	}
}

func (v *valveGear) rockers() Part {
	return Part{
		Step:  "rockers",
		Shows: func(at At) float64 { return v.rocker[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			// The pivot raised lowers the tip against it.
			k := at.Cylinder + at.Valve
			v.rocker[k] = deg(math.Asin(math.Sin(rad(v.rocker[k])) - v.e.short(adjustment(r))/rockerArm))
		},
		Truth: map[string]func(At) float64{"sweep_now": func(at At) float64 {
			closed := rad(v.rocker[at.Cylinder+at.Valve])
			low := math.Asin(math.Sin(closed) - fullLift/rockerArm)
			far := math.Max(math.Cos(closed), math.Cos(low))
			if closed >= 0 && low <= 0 {
				far = 1
			}
			return rockerArm * (far - math.Min(math.Cos(closed), math.Cos(low)))
		}},
	}
}

func (v *valveGear) adjusters() Part {
	return Part{
		Step: "lash", Shows: func(at At) float64 { return v.lash[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			valve, locked := strings.CutSuffix(at.Name, "-locked")
			if !locked {
				valve = valveOf(at)
			}
			if locked == (at.Pass > 1) && r.Verdict != calc.VerdictIn {
				// So many flats of a screw of 26 threads an inch, and what locking it pulls.
				v.lash[at.Cylinder+valve] -= v.e.about(adjustment(r), 0.04) / 6 * inch / 26
			}
		},
		Truth: map[string]func(At) float64{"flats": func(at At) float64 {
			valve, locked := strings.CutSuffix(at.Name, "-locked")
			if !locked {
				valve = valveOf(at)
			}
			if !locked && at.Pass > 1 {
				return math.NaN() // what was found at first, and has been set since
			}
			return (v.lash[at.Cylinder+valve] - lashWanted(valve)) * 26 / inch * 6
		}},
	}
}
