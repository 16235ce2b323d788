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
	for _, c := range e.plan.Cylinders {
		v.rocker[c+"exhaust"] = e.about(12.4, 0.3) // their shaft stands too high
	}
	return []Part{v.springs(), v.toPiston(), v.rockers(), v.adjusters()}
}

func (v *valveGear) springs() Part {
	return Part{
		Step:  "springs",
		Shows: func(at At) float64 { return v.outer[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			if at.Name != "shims" || r.Verdict == calc.VerdictIn {
				return
			}
			for _, a := range r.Adjustment { // one for each valve, by its name
				for _, piece := range a.Pieces {
					v.outer[strings.ReplaceAll(a.What, " ", "")] -= piece
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
			side := map[string]float64{"inlet": 1, "exhaust": -1}[at.Valve]
			switch at.Name {
			case "lift":
				return 0
			case "push":
				return v.room(at.Cylinder, at.Valve, 8*side)
			case "near": // the other cylinders, at one stop
				return v.room(at.Cylinder, at.Valve, 10*side)
			}
			return v.room(v.first(at), at.Valve, angleOf(at.Name))
		},
		Curve: &Curve{From: -60, To: 60, Wheel: func() float64 { return v.e.shape.wheel },
			Of: func(at At, d float64) float64 { return v.open(at.Valve, d) }},
		Move: v.deepen,
		Truth: map[string]func(At) float64{
			"min_clearance": func(at At) float64 { return v.least(v.first(at), valveOf(at)) },
			"others_least": func(at At) float64 {
				least := math.Inf(1)
				for _, c := range v.e.plan.Cylinders[1:] {
					least = math.Min(least, v.least(c, valveOf(at)))
				}
				return least
			},
		},
	}
}

// first is the cylinder of a point, or the first one, whose lobes and pockets are read for all.
func (v *valveGear) first(at At) string {
	if at.Cylinder == "" {
		return v.e.plan.Cylinders[0]
	}
	return at.Cylinder
}

// least is the least way of a valve to the piston over the overlap.
func (v *valveGear) least(c, valve string) float64 {
	least := math.Inf(1)
	for d := -40.0; d <= 40; d += 0.05 {
		least = math.Min(least, v.room(c, valve, d))
	}
	return least
}

// deepen cuts the pockets that were told, or the one with less room where the cylinders lie too far apart.
func (v *valveGear) deepen(at At, r bench.Result) {
	if at.Name == "min-clearance-spread" {
		v.even("inlet", r, "range")
		return
	}
	if r.Verdict == calc.VerdictIn {
		return
	}
	deep := false
	for _, a := range r.Adjustment {
		pocket := v.first(at) + valveOf(at)
		if name, ok := strings.CutPrefix(a.What, "valve pocket of "); ok {
			pocket = strings.ReplaceAll(name, " ", "")
		}
		if a.Amount > 0 || at.Cylinder != "" {
			deep = true
			v.pocket[pocket] += math.Max(0, v.e.short(a.Amount)) + 0.1
		}
	}
	if !deep {
		v.even(valveOf(at), r, "apart")
	}
}

// even gives the pocket with least room what it lacks against the others.
func (v *valveGear) even(valve string, r bench.Result, figure string) {
	tight := v.e.plan.Cylinders[0]
	for _, c := range v.e.plan.Cylinders {
		if v.pocket[c+valve] < v.pocket[tight+valve] {
			tight = c
		}
	}
	if apart, ok := value(r, figure); ok && r.Verdict == calc.VerdictOut {
		v.pocket[tight+valve] += apart
	}
}

func (v *valveGear) rockers() Part {
	return Part{
		Step:  "rockers",
		Shows: func(at At) float64 { return v.rocker[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			if r.Verdict == calc.VerdictIn {
				return
			}
			by := v.e.short(adjustment(r))
			for _, c := range v.onPivot(at) {
				// The pivot raised lowers the tip against it.
				v.rocker[c] = deg(math.Asin(math.Sin(rad(v.rocker[c])) - by/rockerArm))
			}
		},
		Truth: map[string]func(At) float64{
			"sweep_now": func(at At) float64 {
				most := 0.0
				for _, c := range v.onPivot(at) {
					most = math.Max(most, sweep(v.rocker[c]))
				}
				return most
			},
			"apart": func(at At) float64 {
				least, most := math.Inf(1), math.Inf(-1)
				for _, c := range v.onPivot(at) {
					least, most = math.Min(least, v.rocker[c]), math.Max(most, v.rocker[c])
				}
				return most - least
			},
		},
	}
}

// onPivot lists the rockers that a result is about: one of its own pedestal, or all of a shaft.
func (v *valveGear) onPivot(at At) []string {
	if at.Cylinder != "" {
		return []string{at.Cylinder + at.Valve}
	}
	valve := "inlet"
	if at.Name == "exhaust-shaft" {
		valve = "exhaust"
	}
	var out []string
	for _, c := range v.e.plan.Cylinders {
		out = append(out, c+valve)
	}
	return out
}

// sweep is the travel of a rocker's tip across the stem, by the angle it stands at with the valve shut.
func sweep(degrees float64) float64 {
	closed := rad(degrees)
	low := math.Asin(math.Sin(closed) - fullLift/rockerArm)
	far := math.Max(math.Cos(closed), math.Cos(low))
	if closed >= 0 && low <= 0 {
		far = 1
	}
	return rockerArm * (far - math.Min(math.Cos(closed), math.Cos(low)))
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
