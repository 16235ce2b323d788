package demo

import (
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// groups is what the groups of steps measure that are off where nothing is said: masses, big ends, bushes, stems, chambers, the
// torque of each head bolt. They are drawn last, so that the rest of the engine is the same with and without them.
func (e *Engine) groups() []Part {
	measured := false // chambers, and not taken from the maker's data
	for _, s := range e.plan.Steps {
		measured = measured || s.ID == "chambers"
	}
	if measured {
		for _, c := range e.plan.Cylinders {
			e.shape.chamber[c] = e.about(36.5, 0.03)
		}
	}
	return []Part{e.weights(), e.bigEnds(), e.bushes(), e.stems(), {
		Step:  "chambers",
		Shows: func(at At) float64 { return e.shape.chamber[at.Cylinder] },
		Truth: map[string]func(At) float64{"mean": func(at At) float64 { return e.shape.chamber[at.Cylinder] }},
	}, e.rodBolts("rods-on"), {
		Step: "head-bolts", Shows: func(At) float64 { return 33 },
	}}
}

// weights are the masses of the rods and of all that moves with the pistons, in grams.
func (e *Engine) weights() Part {
	small, big, lot := map[string]float64{}, map[string]float64{}, map[string]float64{}
	hung := e.about(250, 0.5)
	for _, c := range e.plan.Cylinders {
		small[c], big[c], lot[c] = e.about(150, 0.1), e.about(320, 0.1), e.about(380, 0.1)
	}
	of := func(at At) map[string]float64 {
		switch {
		case strings.HasPrefix(at.Name, "big"):
			return big
		case strings.HasPrefix(at.Name, "lot"):
			return lot
		}
		return small
	}
	return Part{
		Step: "weights",
		Shows: func(at At) float64 {
			switch at.Name {
			case "hung":
				return hung
			case "whole":
				return small[at.Cylinder] + big[at.Cylinder]
			}
			return of(at)[at.Cylinder]
		},
		Move: func(at At, r bench.Result) {
			told, ok := value(r, "remove")
			if reciprocating, known := value(r, "reciprocating"); at.Name == "factor" && ok && known && r.Verdict != calc.VerdictIn && reciprocating > 0 {
				hung -= e.short(told * 50 / crankThrow) // drilled at 50 mm, as the plan has it
			}
		},
		Truth: map[string]func(At) float64{
			"closure": func(At) float64 { return 0 },
			"mean":    func(at At) float64 { return of(at)[at.Cylinder] },
			"factor_now": func(At) float64 {
				ends, all := 0.0, 0.0
				for _, c := range e.plan.Cylinders {
					ends, all = ends+small[c], all+small[c]+lot[c]
				}
				return (hung + ends) / all
			},
		},
	}
}

// bigEnds are the shells, the journals and the bolts of the rods.
func (e *Engine) bigEnds() Part {
	shell, journal, oval := map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, c := range e.plan.Cylinders {
		journal[c], oval[c] = e.about(1.5*inch, 0.0008), e.about(0.002, 0.0003)
		shell[c] = journal[c] + e.about(0.00165*inch, 0.0005)
	}
	part := e.rodBolts("rod-bearings")
	stretch := part.Shows
	part.Shows = func(at At) float64 {
		switch {
		case at.Name == "shell":
			return shell[at.Cylinder]
		case strings.HasPrefix(at.Name, "journal"):
			if angleOf(at.Point) == 0 {
				return journal[at.Cylinder]
			}
			return journal[at.Cylinder] - oval[at.Cylinder]
		}
		return stretch(at)
	}
	part.Truth["clearance_min"] = func(at At) float64 { return shell[at.Cylinder] - journal[at.Cylinder] }
	part.Truth["difference"] = func(At) float64 { return 0 } // none has grown
	return part
}

// rodBolts are the bolts of the rods, brought to force by their stretch.
func (e *Engine) rodBolts(step string) Part {
	stretch := map[string]float64{}
	bolt := func(at At) string { // by the number behind bolt- or back-; a run may have a name behind it
		_, number, _ := strings.Cut(at.Name, "-")
		number, _, _ = strings.Cut(number, ".")
		return at.Cylinder + number
	}
	now := func(at At) float64 {
		if _, ok := stretch[bolt(at)]; !ok {
			stretch[bolt(at)] = e.about(0.116, 0.001)
		}
		return stretch[bolt(at)]
	}
	return Part{
		Step: step, Shows: now,
		Move: func(at At, r bench.Result) {
			if strings.HasPrefix(at.Name, "bolt-") && r.Verdict != calc.VerdictIn {
				stretch[bolt(at)] += e.short(adjustment(r))
			}
		},
		Truth: map[string]func(At) float64{"preload": func(at At) float64 {
			// Waist and thread in series, E·A/L each; the thread's stress area is π/4·(d − 0.9743/n)² (ASME B1.1).
			waist := 206000 * math.Pi / 4 * 6.9 * 6.9 / 30
			thread := 206000 * math.Pi / 4 * math.Pow((0.3125-0.9743/24)*inch, 2) / 12
			return now(at) / (1/waist + 1/thread)
		}},
	}
}

// bushes are those of the camshaft, with their journals, and the oil pump's end clearance.
func (e *Engine) bushes() Part {
	hole, journal, pump := map[string]float64{}, map[string]float64{}, e.about(0.002*inch, 0.003)
	for _, bush := range []string{"bush-1", "bush-2", "bush-3"} {
		journal[bush] = e.about(0.875*inch, 0.001)
		hole[bush] = journal[bush] + e.about(0.0015*inch, 0.001)
	}
	return Part{
		Step: "cam-bush",
		Shows: func(at At) float64 {
			switch bush, what, _ := strings.Cut(at.Name, "."); {
			case bush == "pump":
				return pump
			case what == "hole":
				return hole[bush]
			default:
				return journal[bush]
			}
		},
		Truth: map[string]func(At) float64{
			"clearance": func(at At) float64 {
				bush := at.Name
				if bush == "" {
					bush = "bush-1"
				}
				return hole[bush] - journal[bush]
			},
			"mean": func(At) float64 { return pump },
		},
	}
}

// stems are the valves in their guides, and how true the seats run.
func (e *Engine) stems() Part {
	guide, stem, seat := map[string]float64{}, map[string]float64{}, map[string]float64{}
	for _, c := range e.plan.Cylinders {
		for valve, clearance := range map[string]float64{"inlet": 0.0015 * inch, "exhaust": 0.0025 * inch} {
			guide[c+valve], stem[c+valve], seat[c+valve] = 8+clearance, 8, 0.0005*inch
		}
		for _, valve := range e.plan.Valves {
			stem[c+valve] = e.about(stem[c+valve], 0.001)
			guide[c+valve] = e.about(guide[c+valve], 0.001)
			seat[c+valve] = e.about(seat[c+valve], 0.003)
		}
	}
	return Part{
		Step: "stems",
		Shows: func(at At) float64 {
			switch at.Name {
			case "guide":
				return guide[at.Cylinder+at.Valve]
			case "stem":
				return stem[at.Cylinder+at.Valve]
			}
			return seat[at.Cylinder+at.Valve]
		},
		Truth: map[string]func(At) float64{"clearance": func(at At) float64 {
			valve := "inlet"
			if at.Valve != "" {
				valve = at.Valve
			}
			return guide[at.Cylinder+valve] - stem[at.Cylinder+valve]
		}},
	}
}
