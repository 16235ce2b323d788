package demo

import (
	"math"
	"math/rand/v2"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Engine is the fictional engine on the bench: parts with a true geometry, in the base unit of each kind (millimetres,
// degrees, grams, cubic centimetres, newton metres). Everything in it is invented. It knows the plan's steps by name and
// nothing of what thoud makes of them.
type Engine struct {
	plan  *plan.Plan
	hand  *rand.Rand
	parts map[string]*Part
	shape geometry
	sure  bool
}

// Part is what is measured and moved in one step of the plan.
type Part struct {
	// Step is the plan's step as it is written: "cam-inlet" stands for that of every cylinder, and for its proof.
	Step string
	// Shows is what an ideal gauge reads at a point, against its datum.
	Shows func(at At) float64
	// Fresh tells the points whose own sentence asks for a new zero, on the work; there the gauge then reads 0.
	Fresh func(at At) bool
	// Curve is what is traced over the turn of the crankshaft, for points that are.
	Curve *Curve
	// Move does what one result tells, with human error; nil where nothing is moved.
	Move func(at At, r bench.Result)
	// Consult is the step that knows what to do where this one's verdict is not in; "" where its own results do.
	Consult string
	// Then is what the hand does with a result when the step is done: fits the shims that were chosen.
	Then func(at At, r bench.Result)
	// Tells is what the hand answers anew when it has done what a result told; nil where nothing is.
	Tells func(at At, r bench.Result) *bench.Verb
	// Truth gives figures of the step as they truly are, worked out from the geometry and not by the methods.
	Truth map[string]func(at At) float64
}

// At is where a gauge stands, or what a result is about.
type At struct {
	Cylinder string // "" where the point belongs to none
	Valve    string
	Name     string // what is left of the point's id
	Point    string
	Pass     int
}

// Curve is what a gauge shows while the crankshaft is turned from one angle to another by hand. The angles are those of
// the crankshaft after the top of the cylinder; what the angle gauge shows is the wheel's matter.
type Curve struct {
	From, To float64
	Wheel    func() float64 // what the wheel shows at the true top
	Of       func(at At, deg float64) float64
}

const inch = 25.4

// NewEngine makes the engine for a plan: one that wants work nearly everywhere. The same seed gives the same engine and
// the same hand.
func NewEngine(p *plan.Plan, seed uint64) *Engine {
	e := &Engine{plan: p, hand: rand.New(rand.NewPCG(seed, 7)), parts: map[string]*Part{}}
	e.shape = newGeometry(e, p.Cylinders, p.Blocks)
	for _, area := range [][]Part{e.bottomEnd(), e.topEnd(), e.crown(), e.camshaft(), e.valves(), e.bolts(), e.groups()} {
		for i := range area {
			e.parts[area[i].Step] = &area[i]
		}
	}
	return e
}

// chosen reports whether the plan's engine is made so.
func (e *Engine) chosen(variant, choice string) bool {
	v, ok := e.plan.Variant(variant)
	return ok && v.Value == choice
}

// Part gives the part of a step; nil where the workshop has none.
func (e *Engine) Part(step plan.Step) *Part {
	name, _ := e.written(step)
	return e.parts[name]
}

// written gives a step's name as the plan's text has it, and the cylinder it was written out for.
func (e *Engine) written(step plan.Step) (name, cylinder string) {
	name = step.ID
	if step.Again != "" {
		name = step.Again
	}
	for _, c := range e.plan.Cylinders {
		if short, ok := strings.CutSuffix(name, "-"+c); ok {
			return short, c
		}
	}
	return name, ""
}

// At takes a point's id, or a run's key, apart.
func (e *Engine) At(step plan.Step, point string, pass int) At {
	_, cylinder := e.written(step)
	at := At{Cylinder: cylinder, Point: point, Pass: pass}
	var rest []string
	for i, part := range strings.Split(point, ".") {
		switch {
		case i == 0 && contains(e.plan.Cylinders, part): // a crown has a front too
			at.Cylinder = part
		case contains(e.plan.Valves, part):
			at.Valve = part
		default:
			rest = append(rest, part)
		}
	}
	at.Name = strings.Join(rest, ".")
	return at
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

// Sure gives the builder a hand that moves things exactly as it was told.
func (e *Engine) Sure() { e.sure = true }

// short is how a hand moves: about as far as it was told, a little more or less each time.
func (e *Engine) short(told float64) float64 {
	if e.sure {
		return told
	}
	return told * (0.95 + 0.06*e.hand.NormFloat64())
}

// about is a size as parts have it: the wanted one, give or take.
func (e *Engine) about(x, spread float64) float64 {
	if e.sure {
		return x
	}
	return x + spread*e.hand.NormFloat64()
}

// adjustment is the amount of a result's first adjustment, 0 where there is none.
func adjustment(r bench.Result) float64 {
	for _, a := range r.Adjustment {
		return a.Amount
	}
	return 0
}

// value is a figure of a result.
func value(r bench.Result, figure string) (float64, bool) {
	if f, ok := r.Figure(figure); ok && f.Value != nil {
		return *f.Value, true
	}
	return 0, false
}

func rad(deg float64) float64 { return deg * math.Pi / 180 }
func deg(rad float64) float64 { return rad * 180 / math.Pi }
