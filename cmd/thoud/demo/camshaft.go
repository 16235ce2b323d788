package demo

import (
	"math"

	"thoud/calc"
	"thoud/capture/bench"
)

// camshaft is top dead centre, the timing chain and the lobes.
func (e *Engine) camshaft() []Part {
	g := &e.shape
	// A run of 118 mm is longer than straight by so much on average; a wheel a little off its middle makes it swing.
	const run, swing = 118.0, 0.016
	excess, tight := e.about(0.088, 0.002), e.about(150, 20)
	slack := func(turn float64) float64 {
		long := run + excess - swing*math.Cos(rad(turn-tight))
		return math.Sqrt(long*long - run*run)
	}
	// nip takes so much slack up at the tight spot, and with it so much off the run: s²/2T.
	nip := func(by float64) {
		now := slack(tight)
		then := now - by
		excess -= (now*now - then*then) / (2 * run)
	}
	of := func(at At) string { // whose lobe: the first cylinder's where none is named
		if at.Cylinder == "" {
			return e.plan.Cylinders[0]
		}
		return at.Cylinder
	}
	lift := func(at At) (centre, height float64) {
		if at.Valve == "exhaust" {
			return g.centre(of(at), false), exhaustLift
		}
		return g.centre(of(at), true), inletLift
	}
	wheel := func(At) float64 { return g.wheel }
	timed := &timing{e: e, two: e.chosen("camshaft", "two")}
	if timed.two {
		g.apart = e.about(-1.6, 0.15) // the exhaust camshaft is late too, by less
	}
	return []Part{{
		Step: "tdc",
		Shows: func(at At) float64 {
			if at.Name == "forward" {
				return 360 - angleOfDrop(20) + g.wheel
			}
			return angleOfDrop(20) + g.wheel
		},
		Curve: &Curve{From: -45, To: 45, Wheel: func() float64 { return g.wheel },
			Of: func(_ At, d float64) float64 { return drop(45) - drop(d) }},
		Then: func(at At, r bench.Result) {
			if tdc, ok := value(r, "tdc"); ok && at.Cylinder == "" { // the first cylinder's
				g.wheel -= e.about(math.Remainder(tdc, 360), 0.09)
			}
		},
		Truth: map[string]func(At) float64{"tdc": wheel, "difference": func(At) float64 { return 0 }}, // both tops at once
	}, {
		Step:  "timing-dry",
		Shows: func(at At) float64 { return slack(angleOf(at.Point)) },
		Move:  func(_ At, r bench.Result) { nip(0.4 * e.short(adjustment(r))) }, // a little
		Truth: map[string]func(At) float64{"tight_slack": func(At) float64 { return slack(tight) }},
	}, {
		Step: "timing-gear",
		Shows: func(at At) float64 {
			return slack(tight + map[string]float64{"before": -45, "after": 45}[at.Point])
		},
		Move: func(_ At, r bench.Result) {
			if now, ok := value(r, "least"); ok && r.Verdict == calc.VerdictOut {
				nip(e.short(now - 4.5)) // to the middle
			}
		},
		Truth: map[string]func(At) float64{"least": func(At) float64 { return slack(tight) }},
	}, {
		Step: "cam",
		Shows: func(at At) float64 {
			centre, high := lift(at)
			switch at.Name {
			case "low.opening":
				return centre - edge(1, high) + g.wheel
			case "low.closing":
				return centre + edge(1, high) + g.wheel
			case "high.opening":
				return centre - edge(4, high) + g.wheel
			case "high.closing":
				return centre + edge(4, high) + g.wheel
			}
			return 0
		},
		Curve: &Curve{From: 0, To: 720, Wheel: func() float64 { return g.wheel },
			Of: func(at At, d float64) float64 { centre, high := lift(at); return lobe(d, centre, high) }},
		Move: timed.move,
		Tells: func(at At, r bench.Result) *bench.Verb {
			f, ok := r.Figure("keyway")
			asked := map[string]string{"correction": "keyway", "exhaust-correction": "exhaust-keyway"}[at.Name]
			if asked == "" || !ok || len(f.Text) != 1 {
				return nil
			}
			return &bench.Verb{Name: bench.DoAnswer, Item: asked, Choice: f.Text[0]}
		},
		Truth: map[string]func(At) float64{
			"inlet_centre":   func(at At) float64 { return g.centre(of(at), true) },
			"inlet_opening":  func(at At) float64 { return edge(1, inletLift) - g.centre(of(at), true) },
			"inlet_closing":  func(at At) float64 { return edge(1, inletLift) + g.centre(of(at), true) - 180 },
			"exhaust_centre": func(at At) float64 { return -g.centre(of(at), false) },
			"centre": func(at At) float64 {
				if at.Valve == "exhaust" || at.Name == "other-exhaust" {
					return -g.centre(of(at), false)
				}
				return g.centre(of(at), true)
			},
			"difference": func(at At) float64 { return g.centre(e.plan.Cylinders[0], true) - g.centre(of(at), true) },
		},
	}}
}

// timing is what the builder knows of the lobes while he times them.
type timing struct {
	e              *Engine
	two            bool         // camshafts
	inlet, exhaust calc.Verdict // whether their centres stand well
}

// move does what a result tells: another keyway, another tooth or a stepped key.
func (t *timing) move(at At, r bench.Result) {
	switch at.Point { // how they stand comes before what is to be done about it
	case "":
		t.inlet = r.Verdict
	case "exhaust", "exhaust-off": // the proof by eye has the limits of the one
		if r.Verdict != calc.NoVerdict {
			t.exhaust = r.Verdict
		}
	}
	told := 2 * adjustment(r)
	if told == 0 { // no keyway and no tooth is nearer: a stepped key
		told, _ = value(r, "correction_crank")
	}
	// Too near a limit to tell is mended by a stepped key: traced again it would be as near again.
	amiss := func(v calc.Verdict) bool { return v == calc.VerdictOut || v == calc.VerdictTooClose }
	g := &t.e.shape
	switch {
	case at.Name == "correction" && amiss(t.inlet):
		told = t.e.about(told, 0.1)
		if g.late -= told; t.two {
			g.apart += told // the exhaust camshaft stays where it is
		}
	case at.Name == "exhaust-correction" && amiss(t.exhaust):
		g.apart -= t.e.about(told, 0.1)
	}
}
