package demo

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"thoud/capture/bench"
)

// Engine is the fictional engine on the bench: parts with a true geometry, in millimetres and degrees. Everything in it
// is invented.
type Engine struct {
	parts map[string]*Part // by step
}

// Part is what is measured and moved in one step.
type Part struct {
	Role  string // of the gauge that reads it
	Shows func(point string) float64
	// Move does what a result tells, with human error; nil where nothing is moved.
	Move func(r bench.Result)
}

// Part gives the part of a step; nil where the workshop has none.
func (e *Engine) Part(step string) *Part { return e.parts[step] }

// Move does what a result of a step tells.
func (e *Engine) Move(step string, r bench.Result) {
	if p := e.parts[step]; p != nil && p.Move != nil {
		p.Move(r)
	}
}

const inch = 25.4

// NewEngine makes the engine of the demo: a parallel twin that needs both its guide blocks moved and its crankshaft
// trued. The same seed gives the same hand.
func NewEngine(seed uint64) *Engine {
	hand := rand.New(rand.NewPCG(seed, 7))
	return &Engine{parts: map[string]*Part{
		"guide-clearance": guideBlocks(hand),
		"crank-runout":    crankshaft(hand),
	}}
}

// short is how a hand moves: about nine tenths of what it was told, a little more or less each time.
func short(hand *rand.Rand, told float64) float64 {
	return told * (0.93 + 0.08*hand.NormFloat64())
}

// guideBlocks are two blocks that stand proud of the joint face, with the lobes' contact somewhere below.
func guideBlocks(hand *rand.Rand) *Part {
	stands := map[string]float64{"left": 0.302 * inch, "right": 0.297 * inch}
	contact := map[string]float64{"left": 0.2118 * inch, "right": 0.2141 * inch}
	return &Part{Role: "indicator",
		Shows: func(point string) float64 {
			side, what, _ := strings.Cut(point, ".")
			if what == "contact" {
				stands[side] = contact[side] // the lobes push the block there, and there it stays
			}
			return stands[side]
		},
		Move: func(r bench.Result) {
			for _, a := range r.Adjustment {
				stands[r.Key] -= short(hand, a.Amount) // away from the cam is deeper into the cylinder
			}
		}}
}

// crankshaft is bent by a few hundredths of a millimetre; each tap takes out most of it.
func crankshaft(hand *rand.Rand) *Part {
	e, high := 0.042, 130.0
	return &Part{Role: "indicator",
		Shows: func(point string) float64 {
			deg, err := strconv.ParseFloat(strings.TrimSuffix(point, "deg"), 64)
			if err != nil {
				return 0
			}
			rad := math.Pi / 180
			return e * (math.Cos((deg-high)*rad) - math.Cos(high*rad)) // against the datum at 0 degrees
		},
		Move: func(bench.Result) { e *= 0.12 + 0.05*math.Abs(hand.NormFloat64()) }}
}
