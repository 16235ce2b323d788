package demo

import (
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// valves is the valve gear: springs, pockets, rockers and lash.
func (e *Engine) valves() []Part {
	g := &e.shape
	outer, rocker, lash, pocket := map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, c := range e.plan.Cylinders {
		for _, v := range e.plan.Valves {
			outer[c+v] = e.about(39.9, 0.04)
			rocker[c+v] = e.about(7.06, 0.3)
			lash[c+v] = e.about(0.013*inch, 0.02)
		}
		pocket[c+"inlet"], pocket[c+"exhaust"] = e.about(3.9, 0.02), e.about(4.75, 0.02) // valve shut, piston at its top
	}
	rocker[e.plan.Cylinders[0]+"exhaust"] = 12.4 // one pedestal stands too high
	first := e.plan.Cylinders[0]
	open := func(valve string, d float64) float64 {
		if valve == "exhaust" {
			return lobe(d, g.centre(first, false), outletValve)
		}
		return lobe(d, g.centre(first, true), inletValve)
	}
	room := func(c, valve string, d float64) float64 {
		return pocket[c+valve] + drop(d)*math.Cos(rad(valveLean)) - open(valve, d)
	}
	valveOf := func(at At) string {
		if at.Valve == "" {
			return "inlet" // the step's own computation is the inlet's
		}
		return at.Valve
	}
	const arm, lift = 37, 9.1
	targets := map[string]float64{"inlet": 0.004, "exhaust": 0.006}
	return []Part{{
		Step:  "springs",
		Shows: func(at At) float64 { return outer[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			if at.Valve != "" && r.Verdict != calc.VerdictIn {
				for _, piece := range pieces(r) {
					outer[at.Cylinder+at.Valve] -= piece
				}
			}
		},
		Truth: map[string]func(At) float64{"seat": func(at At) float64 {
			h := outer[at.Cylinder+at.Valve]
			return 27.6*(48-h) + 12.8*(44-h+1.5)
		}},
	}, {
		Step: "valve-to-piston",
		Shows: func(at At) float64 {
			switch {
			case at.Name == "lift":
				return 0
			case at.Name == "push" && at.Valve == "exhaust":
				return room(at.Cylinder, at.Valve, -8)
			case at.Name == "push":
				return room(at.Cylinder, at.Valve, 8)
			}
			return room(at.Cylinder, at.Valve, angleOf(at.Name))
		},
		Curve: &Curve{From: -60, To: 60, Wheel: func() float64 { return g.wheel },
			Of: func(at At, d float64) float64 { return open(at.Valve, d) }},
		Move: func(at At, r bench.Result) {
			if at.Cylinder != "" && r.Verdict != calc.VerdictIn {
				pocket[at.Cylinder+valveOf(at)] += math.Max(0, e.short(adjustment(r))) + 0.1
			}
			if at.Name == "min-clearance-spread" && r.Verdict == calc.VerdictOut {
				tight := first
				for _, c := range e.plan.Cylinders {
					if pocket[c+"inlet"] < pocket[tight+"inlet"] {
						tight = c
					}
				}
				if apart, ok := value(r, "range"); ok {
					pocket[tight+"inlet"] += apart
				}
			}
		},
		Truth: map[string]func(At) float64{"min_clearance": func(at At) float64 {
			least := math.Inf(1)
			for d := -40.0; d <= 40; d += 0.05 {
				least = math.Min(least, room(at.Cylinder, valveOf(at), d))
			}
			return least
		}},
	}, {
		Step:  "rockers",
		Shows: func(at At) float64 { return rocker[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			// The pivot raised lowers the tip against it.
			k := at.Cylinder + at.Valve
			rocker[k] = deg(math.Asin(math.Sin(rad(rocker[k])) - e.short(adjustment(r))/arm))
		},
		Truth: map[string]func(At) float64{"sweep_now": func(at At) float64 {
			closed := rad(rocker[at.Cylinder+at.Valve])
			low := math.Asin(math.Sin(closed) - lift/arm)
			far := math.Max(math.Cos(closed), math.Cos(low))
			if closed >= 0 && low <= 0 {
				far = 1
			}
			return arm * (far - math.Min(math.Cos(closed), math.Cos(low)))
		}},
	}, {
		Step: "lash", Shows: func(at At) float64 { return lash[at.Cylinder+at.Valve] },
		Move: func(at At, r bench.Result) {
			valve := valveOf(at)
			locked := strings.HasSuffix(at.Name, "-locked")
			if locked {
				valve = strings.TrimSuffix(at.Name, "-locked")
			}
			if locked == (at.Pass > 1) && r.Verdict != calc.VerdictIn {
				// So many flats of a screw of 26 threads an inch, and what locking it pulls.
				lash[at.Cylinder+valve] -= e.about(adjustment(r), 0.04) / 6 * inch / 26
			}
		},
		Truth: map[string]func(At) float64{"flats": func(at At) float64 {
			valve := strings.TrimSuffix(at.Name, "-locked")
			if at.Name == "" {
				valve = valveOf(at)
			}
			if (at.Name == "" || at.Name == "exhaust") && at.Pass > 1 {
				return math.NaN() // what was found at first, and has been set since
			}
			return (lash[at.Cylinder+valve] - targets[valve]*inch) * 26 / inch * 6
		}},
	}}
}
