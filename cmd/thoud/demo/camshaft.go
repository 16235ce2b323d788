package demo

import (
	"math"

	"thoud/capture/bench"
)

// camshaft is top dead centre, the timing chain and the lobes.
func (e *Engine) camshaft() []Part {
	g := &e.shape
	// A run of 120 mm is longer than straight by so much on average; a wheel a little off its middle makes it swing.
	const run, swing = 120.0, 0.016
	excess, tight := e.about(0.088, 0.002), e.about(150, 20)
	slack := func(turn float64) float64 {
		long := run + excess - swing*math.Cos(rad(turn-tight))
		return math.Sqrt(long*long - run*run)
	}
	stop := angleOfDrop(20)
	trace := func(inlet bool, lift float64) *Curve {
		return &Curve{From: 0, To: 720, Wheel: func() float64 { return g.wheel },
			Of: func(at At, d float64) float64 { return lobe(d, g.centre(at.Cylinder, inlet), lift) }}
	}
	flat := func(At) float64 { return 0 }
	wheel := func(At) float64 { return g.wheel }
	return []Part{{
		Step: "tdc",
		Shows: func(at At) float64 {
			if at.Name == "forward" {
				return 360 - stop + g.wheel
			}
			return stop + g.wheel
		},
		Then: func(at At, r bench.Result) {
			if at.Cylinder == e.plan.Cylinders[0] {
				g.wheel += e.about(adjustment(r), 0.05)
			}
		},
		Truth: map[string]func(At) float64{"tdc": wheel},
	}, {
		Step: "tdc-fit", Shows: flat,
		Curve: &Curve{From: -45, To: 45, Wheel: func() float64 { return g.wheel },
			Of: func(_ At, d float64) float64 { return drop(45) - drop(d) }},
		Then: func(at At, r bench.Result) {
			if tdc, ok := value(r, "tdc"); ok && at.Cylinder == e.plan.Cylinders[len(e.plan.Cylinders)-1] {
				g.wheel -= e.about(math.Remainder(tdc, 360), 0.09) // the rest of it
			}
		},
		Truth: map[string]func(At) float64{"tdc": wheel},
	}, {
		Step:  "chain",
		Shows: func(at At) float64 { return slack(angleOf(at.Point)) },
		Move: func(_ At, r bench.Result) {
			// So much less slack at the tight spot takes so much off the run: s²/2T.
			now := slack(tight)
			then := now - 0.4*e.short(adjustment(r)) // nipped a little
			excess -= (now*now - then*then) / (2 * run)
		},
		Truth: map[string]func(At) float64{"tight_slack": func(At) float64 { return slack(tight) }},
	}, {
		Step: "cam-inlet", Shows: flat, Curve: trace(true, inletLift), Consult: "cam-correction",
		Move: func(_ At, r bench.Result) { g.late -= 2 * e.about(adjustment(r), 0.05) },
		Truth: map[string]func(At) float64{
			"inlet_centre":  func(at At) float64 { return g.centre(at.Cylinder, true) },
			"inlet_opening": func(at At) float64 { return edge(1, inletLift) - g.centre(at.Cylinder, true) },
			"inlet_closing": func(at At) float64 { return edge(1, inletLift) + g.centre(at.Cylinder, true) - 180 },
		},
	}, {
		Step: "cam-exhaust", Shows: flat, Curve: trace(false, exhaustLift),
		Truth: map[string]func(At) float64{
			"exhaust_centre":  func(at At) float64 { return -g.centre(at.Cylinder, false) },
			"exhaust_opening": func(at At) float64 { return edge(1, exhaustLift) - g.centre(at.Cylinder, false) - 180 },
			"exhaust_closing": func(at At) float64 { return edge(1, exhaustLift) + g.centre(at.Cylinder, false) },
		},
	}, {
		Step: "cam-events",
		Truth: map[string]func(At) float64{
			"lobe_separation": func(At) float64 { return lobeCentre },
			"overlap": func(at At) float64 {
				return edge(1, inletLift) + edge(1, exhaustLift) - g.centre(at.Cylinder, true) + g.centre(at.Cylinder, false)
			},
		},
	}}
}
