package bench

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// swapped asks, when a pass is full, whether two sides were read the wrong way round: as a hypothesis on the whole pass
// against the pass before. Every point of the first cylinder is exchanged with its fellow of the other; if that brings
// the pass clearly nearer to the one before (the sum of squares falls to less than a quarter, and every pair gains), it
// is asked. nil where it does not, or where there is no pass to compare with.
func swapped(b *Build, step plan.Step, p *Pass) *Question {
	if len(b.Plan.Cylinders) != 2 || p.Status != PassIsFull || p.Number < 2 {
		return nil
	}
	before := previous(b.Step(step.ID), p.Number)
	if before == nil {
		return nil
	}
	pairs := pairsOf(b.Plan.Cylinders, step, p, before)
	if !anyDiffered(pairs) {
		return nil
	}
	asIs, exchanged := 0.0, 0.0
	for _, q := range pairs {
		asIs += sq(q.left-q.leftWas) + sq(q.right-q.rightWas)
		exchanged += sq(q.left-q.rightWas) + sq(q.right-q.leftWas)
		if sq(q.left-q.rightWas)+sq(q.right-q.leftWas) >= sq(q.left-q.leftWas)+sq(q.right-q.rightWas) {
			return nil
		}
	}
	if exchanged >= asIs/4 {
		return nil
	}
	return &Question{Guard: guardSwap, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("%s and %s look exchanged: these readings fit pass %d better the other way round. Read the pass again, or take them as read?",
			b.Plan.Cylinders[0], b.Plan.Cylinders[1], before.Number)}
}

// pair is a point on both sides, now and in the pass before, with the standard uncertainty of one reading there.
type pair struct{ left, right, leftWas, rightWas, u float64 }

// anyDiffered reports whether the two sides are known to have differed somewhere, by more than their uncertainty: sides
// that never did cannot be told apart, and so not found exchanged.
func anyDiffered(pairs []pair) bool {
	for _, q := range pairs {
		if differ(q.leftWas, q.rightWas, q.u) {
			return true
		}
	}
	return false
}

// scatterOf is the standard uncertainty of one reading as far as the plan and the display tell: the stated set-up
// repeatability, and a count of the gauge.
func scatterOf(step plan.Step, like quantity.Value) float64 {
	return math.Hypot(step.Setup.Float(), like.Resolution()/math.Sqrt(12))
}

// pairsOf collects the points that both cylinders and both passes have.
func pairsOf(cylinders []string, step plan.Step, p, before *Pass) []pair {
	var out []pair
	for _, pt := range step.Points {
		fellow, ok := fellowOf(pt.ID, cylinders)
		if !ok {
			continue
		}
		a, ok1 := p.Standing(pt.ID, 1)
		c, ok2 := p.Standing(fellow, 1)
		aw, ok3 := before.Standing(pt.ID, 1)
		cw, ok4 := before.Standing(fellow, 1)
		if ok1 && ok2 && ok3 && ok4 {
			out = append(out, pair{a.Value.Float(), c.Value.Float(), aw.Value.Float(), cw.Value.Float(), scatterOf(step, aw.Raw)})
		}
	}
	return out
}

// fellowOf gives the same point on the other cylinder; only points of the first cylinder have one.
func fellowOf(id string, cylinders []string) (string, bool) {
	rest, ok := cutCylinder(id, cylinders[0])
	if !ok {
		return "", false
	}
	return cylinders[1] + rest, true
}

func cutCylinder(id, cylinder string) (string, bool) {
	if id == cylinder {
		return "", true
	}
	if len(id) > len(cylinder) && id[:len(cylinder)] == cylinder && id[len(cylinder)] == '.' {
		return id[len(cylinder):], true
	}
	return "", false
}

func previous(st *StepState, n int) *Pass {
	for i := len(st.Passes) - 1; i >= 0; i-- {
		if p := st.Passes[i]; p.Number < n && p.Status == PassIsClosed {
			return p
		}
	}
	return nil
}

func sq(x float64) float64 { return x * x }
