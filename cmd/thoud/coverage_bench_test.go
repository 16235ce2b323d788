package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/demo"
	"thoud/pipeline"
)

// paperBench measures the demo's engine by entries alone: no ports, no service. Gauges err as the register and the plan
// say; an exact one does not err at all.
type paperBench struct {
	tb      testing.TB
	plan    *plan.Plan
	engine  *demo.Engine
	exact   bool
	chance  *rand.Rand
	gauges  map[string]*paperGauge // by role
	state   bench.State
	results bench.Results
	told    func(step plan.Step, r bench.Result, figure string, truth float64)
}

type paperGauge struct {
	bench.Gauge
	errs   *demo.Errs
	repeat float64 // standard deviation of one reading, as its last study has it
	rest   float64 // what it shows on the datum
	zero   bench.Zero
	zeroID string
}

const paperJob = "paper"

// studies are the standard deviations, in mm, that studies of two of the gauges found.
func studies() map[string]float64 { return map[string]float64{"dial-1": 0.001, "bore-1": 0.0005} }

func newPaperBench(tb testing.TB, p *plan.Plan, seed uint64, exact bool) *paperBench {
	tb.Helper()
	b := &paperBench{tb: tb, plan: p, engine: demo.NewEngine(p, seed), exact: exact, chance: rand.New(rand.NewPCG(seed, 23)), gauges: map[string]*paperGauge{}}
	if exact {
		b.engine.Sure()
	}
	for _, s := range demo.Specs() {
		g, err := s.Register(s.Name)
		if err != nil {
			tb.Fatal(err)
		}
		errs, err := demo.NewErrs(s, b.chance)
		if err != nil {
			tb.Fatal(err)
		}
		pg := &paperGauge{Gauge: g, errs: errs, repeat: studies()[s.Name]}
		if g.Known != bench.KnownKeyed && g.Role != "angle" {
			pg.rest = 100 * g.Resolution.Float() * b.chance.Float64()
		}
		b.gauges[s.Role] = pg
		b.add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &g})
		if pg.repeat > 0 {
			b.add(bench.Entry{Kind: bench.GaugeChecked, Check: &bench.Check{Gauge: s.Name, Study: true, U: pg.repeat}})
		}
	}
	b.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: paperJob, Plan: p.Name, Text: string(p.Text)}})
	return b
}

// add folds an entry, and computes where one asks for it.
func (b *paperBench) add(e bench.Entry) string {
	e.V, e.Bench, e.N = bench.Version, "paper", b.state.N+1
	e.ID = fmt.Sprintf("e%d", e.N)
	next, err := bench.Apply(b.state, e)
	if err != nil {
		b.tb.Fatal(err)
	}
	b.state = next
	if e.Kind == bench.PassClosed || e.Kind == bench.StepEntered {
		b.results = b.results.With(pipeline.Compute(b.state, e, b.results)...)
	}
	return e.ID
}

// work goes through the plan: every step once, and once more where something is moved.
func (b *paperBench) work() {
	for _, step := range b.plan.Steps {
		b.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: paperJob, Step: step.ID}})
		part := b.engine.Part(step)
		if len(step.Points) == 0 {
			b.compare(step, part, 0)
			continue
		}
		if part == nil {
			b.tb.Fatalf("nothing to measure at %s", step.ID)
		}
		last := b.pass(step, part, 1)
		if part.Move != nil && part.Consult == "" {
			for _, r := range last {
				part.Move(b.engine.At(step, r.Key, 1), r)
			}
			last = b.pass(step, part, 2)
		}
		if part.Then != nil && step.Again == "" {
			for _, r := range last {
				part.Then(b.engine.At(step, r.Key, 1), r)
			}
		}
	}
}

// compare holds the figures of a step's results against the truth.
func (b *paperBench) compare(step plan.Step, part *demo.Part, pass int) []bench.Result {
	build, _ := b.state.Build(paperJob)
	results := b.results.OfPass(build, step, pass)
	if part == nil {
		return results
	}
	for _, r := range results {
		if r.Refused != "" {
			b.tb.Errorf("%s %s, pass %d: refused: %s", step.ID, r.Key, pass, r.Refused)
			continue
		}
		for figure, truth := range part.Truth {
			if _, ok := r.Figure(figure); ok {
				if x := truth(b.engine.At(step, r.Key, pass)); !math.IsNaN(x) { // what the geometry says nothing of
					b.told(step, r, figure, x)
				}
			}
		}
		if apart, ok := b.apart(step, part, r); ok {
			b.told(step, r, "range", apart)
		}
	}
	return results
}

// apart is how far two sides truly lie apart, as the readings have it the one way round or the other; false where the result is no
// spread of two, or the geometry does not say.
func (b *paperBench) apart(step plan.Step, part *demo.Part, r bench.Result) (float64, bool) {
	c := step.ComputeOf(r.Key)
	f, ok := r.Figure("greatest_at")
	if !ok || c == nil || c.Method != "spread" || len(c.Inputs["values"].Refs) != 2 {
		return 0, false
	}
	var x [2]float64
	for i, ref := range c.Inputs["values"].Refs {
		truth, known := part.Truth[ref.Name]
		if ref.Kind != plan.RefFigure || ref.Step != step.ID || !known {
			return 0, false
		}
		x[i] = truth(b.engine.At(step, ref.Run, r.Pass))
	}
	if *f.Value == 2 {
		x[0], x[1] = x[1], x[0]
	}
	return x[0] - x[1], !math.IsNaN(x[0] - x[1])
}

// pass measures every point of a step once.
func (b *paperBench) pass(step plan.Step, part *demo.Part, n int) []bench.Result {
	place := bench.Place{Build: paperJob, Step: step.ID, Pass: n}
	own := b.gauges[step.Capture.Role]
	if step.Datum != nil && !step.Datum.AtPoint {
		b.setZero(step, own, place)
	}
	ownZero, ownID := own.zero, own.zeroID
	b.add(bench.Entry{Kind: bench.PassOpened, Place: place})
	zeroed := map[string]bool{"": true} // the further gauges of the step, and points with a zero of their own
	var drift, allowed float64
	if step.Datum != nil && step.Datum.Close {
		allowed = bench.AllowedDrift(step, own.Resolution).Float()
		drift = max(-0.9, min(0.9, 0.3*b.chance.NormFloat64())) * allowed
	}
	points := step.Wanted(n)
	all := len(points) * max(step.Seatings, 1)
	taken := 0
	for k := 1; k <= max(step.Seatings, 1); k++ {
		for _, pt := range points {
			if n > 1 && pt.Once {
				continue
			}
			taken++
			at := b.engine.At(step, pt.ID, n)
			where := place
			where.Point, where.Seating = pt.ID, k
			seen := step.At(pt.ID)
			g := b.gauges[step.Reader(pt.ID)]
			key := step.GaugeOf(pt.ID)
			if seen.Datum != nil && seen.Datum.AtPoint {
				key = "point " + pt.ID
			}
			switch {
			case seen.Datum != nil && !zeroed[key]:
				zeroed[key] = true
				b.setZero(seen, b.gauges[step.RoleOf(pt.ID)], where)
			case key == "" && g == own:
				g.zero, g.zeroID = ownZero, ownID
			}
			sofar := drift * float64(taken) / float64(all+1)
			if step.ModeOf(pt.ID) == plan.Trace {
				sofar = drift // it walks there while the shaft is turned
			}
			if key != "" {
				sofar = 0 // a gauge that is not read on its datum again is zeroed shortly before
			}
			b.add(bench.Entry{Kind: bench.ReadingTaken, Place: where, Reading: b.reading(seen, pt, part, at, g, sofar)})
		}
	}
	closed := bench.Entry{Kind: bench.PassClosed, Place: place}
	if allowed > 0 {
		g := own
		g.zero, g.zeroID = ownZero, ownID
		rest := b.shown(g, step.Datum.Size.Float()+b.walk(drift)+b.repeat(g))
		v, err := g.zero.WithZero(rest)
		if err != nil {
			b.tb.Fatal(err)
		}
		by, err := v.Sub(g.zero.Shows)
		if err != nil {
			b.tb.Fatal(err)
		}
		closed.Drift = &bench.Drift{By: by}
	}
	b.add(closed)
	return b.compare(step, part, n)
}

func (b *paperBench) setZero(step plan.Step, g *paperGauge, place bench.Place) {
	size := step.Datum.Size
	raw := b.shown(g, size.Float()+b.repeat(g))
	shows := size.In(raw.Unit, raw.Places)
	g.zero = bench.Zero{Gauge: g.Name, Raw: raw, Shows: shows}
	g.zeroID = b.add(bench.Entry{Kind: bench.ZeroSet, Place: place, Zero: &g.zero})
}

func (b *paperBench) repeat(g *paperGauge) float64 { return b.walk(g.repeat * b.chance.NormFloat64()) }

func (b *paperBench) walk(x float64) float64 {
	if b.exact {
		return 0
	}
	return x
}

func (b *paperBench) err(g *paperGauge, step plan.Step, at demo.At) float64 {
	return b.walk(g.errs.At(step, at.Point, 1))
}

// shown is what the display says: in whole counts, or, where it is exact, as finely as a value can be.
func (b *paperBench) shown(g *paperGauge, x float64) quantity.Value {
	x += g.rest
	count := g.Resolution
	if b.exact {
		if count.Kind() == quantity.Length {
			count = quantity.OfLength(1, count.Unit, 9)
		} else {
			count = quantity.Value{N: 1, Places: 9, Unit: count.Unit}
		}
	}
	count.N *= int64(math.Round(x / count.Float()))
	return count
}

func (b *paperBench) reading(step plan.Step, pt plan.Point, part *demo.Part, at demo.At, g *paperGauge, drift float64) *bench.Reading {
	mode := step.Capture.Mode
	if pt.Mode != "" {
		mode = pt.Mode
	}
	r := &bench.Reading{Gauge: g.Name, Mode: string(mode), Keyed: g.Known == bench.KnownKeyed}
	switch mode {
	case plan.Trace:
		b.trace(step, part, at, g, drift, r)
		return r
	case plan.Bracket:
		goes, stops := g.errs.Bracket(g.Resolution, part.Shows(at))
		sum, err := goes.Add(stops)
		if err != nil {
			b.tb.Fatal(err)
		}
		sum.N /= 2
		r.Goes, r.Stops, r.Raw, r.Value = &goes, &stops, sum, sum
		if b.exact {
			r.Raw = b.shown(g, part.Shows(at))
			r.Value = r.Raw
		}
		return r
	case plan.Crossings: // the wheel, typed; the zero is that of the gauge which watches the height
		r.Raw, r.Keyed = b.shown(g, part.Shows(at)+b.err(g, step, at)), true
		r.Value = r.Raw
		return r
	case plan.Swing, plan.Stops:
		low := b.shown(g, b.repeat(g))
		high, err := b.shown(g, part.Shows(at)+b.err(g, step, at)+b.repeat(g)).Sub(low)
		if err != nil {
			b.tb.Fatal(err)
		}
		r.Raw, r.Value = high, high
		return r
	}
	r.Raw = b.shown(g, part.Shows(at)+b.err(g, step, at)+b.repeat(g)+b.walk(drift))
	b.zeroed(step, g, r)
	return r
}

func (b *paperBench) zeroed(step plan.Step, g *paperGauge, r *bench.Reading) {
	r.Value = r.Raw
	if step.Datum == nil {
		return
	}
	v, err := g.zero.WithZero(r.Raw)
	if err != nil {
		b.tb.Fatal(err)
	}
	r.Zero, r.Value = g.zeroID, v
}

// trace turns the crankshaft through a curve in steps of about 5 degrees, as no hand stops evenly.
func (b *paperBench) trace(step plan.Step, part *demo.Part, at demo.At, g *paperGauge, drift float64, r *bench.Reading) {
	c, angle := part.Curve, b.gauges[step.Capture.Angle]
	by := 5.0
	if b.exact {
		by = 0.5
	}
	off, wheelOff := b.err(g, step, at), b.walk(angle.errs.Common(step))
	r.Samples = &bench.Samples{Unit: g.Resolution.Unit.Code, Places: g.Resolution.Places}
	for d := c.From; d <= c.To; d += by {
		wheel := d + c.Wheel() + b.walk(0.3*b.chance.NormFloat64())
		walked := b.walk(drift * (d - c.From) / (c.To - c.From))
		one := &bench.Reading{Raw: b.shown(g, c.Of(at, wheel-c.Wheel())+off+walked+b.repeat(g))}
		b.zeroed(step, g, one)
		r.Zero, r.Raw = one.Zero, one.Raw
		r.Samples.Value = append(r.Samples.Value, one.Value.N)
		shown := b.shown(angle, wheel+wheelOff)
		r.Samples.Angle = append(r.Samples.Angle, int64(math.Round(shown.Float()*1000)))
	}
	r.Value = r.Raw
	b.zeroed(step, g, r)
}
