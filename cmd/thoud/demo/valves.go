package demo

import (
	"math"

	"thoud/capture/bench"
)

// valves is the valve gear: springs, pockets, rockers and lash.
func (e *Engine) valves() []Part {
	g := &e.shape
	outer, rocker, lash, pocket := map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, c := range e.plan.Cylinders {
		for _, v := range e.plan.Valves {
			outer[c+v] = e.about(40.3, 0.1)
			rocker[c+v] = e.about(7.1, 0.3)
			lash[c+v] = e.about(0.013*inch, 0.02)
		}
		pocket[c+"inlet"], pocket[c+"exhaust"] = e.about(4.1, 0.05), e.about(4.75, 0.05) // valve shut, piston at its top
	}
	rocker[e.plan.Cylinders[0]+"exhaust"] = 12.4 // one pedestal stands too high
	toPiston := func(step string, inlet bool, pushAt, lift float64) Part {
		valve := "exhaust"
		if inlet {
			valve = "inlet"
		}
		open := func(at At, d float64) float64 { return lobe(d, g.centre(at.Cylinder, inlet), lift) }
		room := func(at At, d float64) float64 {
			return pocket[at.Cylinder+valve] + drop(d)*math.Cos(rad(valveLean)) - open(at, d)
		}
		return Part{
			Step:  step,
			Fresh: func(at At) bool { return at.Name == "push" || at.Name == "lift" },
			Shows: func(at At) float64 {
				if at.Name == "push" {
					return room(at, pushAt)
				}
				return 0
			},
			Curve: &Curve{From: -60, To: 60, Wheel: func() float64 { return g.wheel }, Of: open},
			Move:  func(at At, r bench.Result) { pocket[at.Cylinder+valve] += math.Max(0, e.short(adjustment(r))) + 0.1 },
			Truth: map[string]func(At) float64{"min_clearance": func(at At) float64 {
				least := math.Inf(1)
				for d := -40.0; d <= 40; d += 0.05 {
					least = math.Min(least, room(at, d))
				}
				return least
			}},
		}
	}
	adjuster := func(step, valve string, target float64) Part {
		return Part{
			Step: step, Shows: func(at At) float64 { return lash[at.Cylinder+valve] },
			Move: func(at At, r bench.Result) {
				// So many flats of a screw of 26 threads an inch, and what locking it pulls.
				lash[at.Cylinder+valve] -= e.about(adjustment(r), 0.04) / 6 * inch / 26
			},
			Truth: map[string]func(At) float64{"flats": func(at At) float64 {
				return (lash[at.Cylinder+valve] - target*inch) * 26 / inch * 6
			}},
		}
	}
	const arm, lift = 38, 9.4
	return []Part{{
		Step: "spring-height",
		Shows: func(at At) float64 {
			if at.Name == "inner" {
				return outer[at.Cylinder+at.Valve] - 1.5
			}
			return outer[at.Cylinder+at.Valve]
		},
		Then: func(at At, r bench.Result) { outer[at.Cylinder+at.Valve] -= adjustment(r) },
		Truth: map[string]func(At) float64{"seat": func(at At) float64 {
			h := outer[at.Cylinder+at.Valve]
			return 28.8*(49-h) + 13.4*(45-h+1.5)
		}},
	},
		toPiston("inlet-to-piston", true, 8, inletValve), toPiston("exhaust-to-piston", false, -8, outletValve),
		{
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
		},
		adjuster("lash-inlet", "inlet", 0.004), adjuster("lash-exhaust", "exhaust", 0.006)}
}
