package calc

import (
	"math"
	"sort"
)

// heightSlopes is how the lift and its slope at a crank angle follow each sample, and how the slope bends there.
func (c *liftCurve) heightSlopes(angle float64) (lift, slope sampleSlopes, bend float64) {
	at := wrap(angle, cycle)
	i := sort.SearchFloat64s(c.x, at) - 1
	const h = 1e-5 // mm and degrees
	var byKnot [4][]float64
	for k := range byKnot {
		byKnot[k] = make([]float64, c.n)
	}
	for k := i - 1; k <= i+2; k++ {
		for way, move := range [][2]float64{{0, h}, {h, 0}} {
			plus, minus := c.pieceMoved(i, k, move[0], move[1]), c.pieceMoved(i, k, -move[0], -move[1])
			byKnot[way][c.index(k)] += (plus.at(at) - minus.at(at)) / (2 * h)
			byKnot[2+way][c.index(k)] += (plus.slope(at) - minus.slope(at)) / (2 * h)
		}
	}
	p := c.pieceMoved(i, i, 0, 0)
	// Within one cubic, so that the bend is its own.
	a, _ := c.knot(i)
	b, _ := c.knot(i + 1)
	lo, hi := math.Max(a, at-1e-3), math.Min(b, at+1e-3)
	bend = (p.slope(hi) - p.slope(lo)) / (hi - lo)
	spread := func(byLift, byAngle []float64) sampleSlopes {
		s := sampleSlopes{make([]float64, len(c.of)), make([]float64, len(c.of))}
		for sample, knot := range c.of {
			s.lift[sample] = byLift[knot] * c.share[sample]
		}
		for knot := range c.n {
			s.angle[c.lead[knot]] += byAngle[knot]
		}
		return s
	}
	return spread(byKnot[0], byKnot[1]), spread(byKnot[2], byKnot[3]), bend
}

// leastAt is how a least clearance and its place follow the samples, with the camshaft advanced.
type leastAt struct {
	lift, slope sampleSlopes // of the curve there
	bend        float64
	place       sampleSlopes
}

// leastSlopes works that out at a place where the clearance is level: its height follows the samples as if the place stood
// still, and the place moves by what the slope of the lift changes over how the clearance bends. ok is false at the edge of the
// overlap.
func (p *pocket) leastSlopes(at, advance float64) (l leastAt, ok bool) {
	const h = 1e-3
	if level := p.crank.slope(at)*p.cos - p.lift.slope(at+advance); math.Abs(level) > 1e-7 {
		return l, false
	}
	l.lift, l.slope, l.bend = p.curve.heightSlopes(at + advance)
	over := (p.crank.slope(at+h)-p.crank.slope(at-h))/(2*h)*p.cos - l.bend
	if !(over > 1e-9) {
		return l, false
	}
	l.place = sampleSlopes{}.plus(1/over, l.slope)
	return l, true
}

// setSlopes gives Run how every figure follows every sample; false where the least lies where the slopes do not say it.
func (p *pocket) setSlopes(in Args, out *Out, at0, at1, advance float64) bool {
	if !out.wantSlopes {
		return true
	}
	now, ok := p.leastSlopes(at0, 0)
	if !ok {
		return false
	}
	then, ok := p.leastSlopes(at1, advance)
	if !ok {
		return false
	}
	static := sampleSlopes{}.plus(0, now.lift)
	if in.Has("push") {
		static, _, _ = p.curve.heightSlopes(signed(in.Num("at"), cycle))
	}
	rows := map[string]sampleSlopes{
		"static_clearance": static,
		"min_clearance":    sampleSlopes{}.plus(1, static).plus(-1, now.lift),
		"at_crank":         now.place,
		"min_after":        sampleSlopes{}.plus(1, static).plus(-1, then.lift),
		"at_crank_after":   then.place,
		"sensitivity":      sampleSlopes{}.plus(-1, now.slope).plus(-now.bend, now.place),
	}
	sine := math.Sqrt(1 - p.cos*p.cos)
	rows["sideways"] = sampleSlopes{}.plus(sine, then.lift).plus(sine*p.lift.slope(at1+advance), then.place)
	for figure, sign := range map[string]float64{"max_advance": 1, "max_retard": -1} {
		x, given := out.nums[figure]
		if !given {
			continue
		}
		_, at := p.least(sign * x)
		l, ok := p.leastSlopes(at, sign*x)
		steep := p.lift.slope(at + sign*x) // the clearance loses so much a degree of advance
		if !ok || math.Abs(steep) < leastFlank {
			return false
		}
		rows[figure] = sampleSlopes{}.plus(sign/steep, static).plus(-sign/steep, l.lift)
	}
	lift, angle := out.Slopes("lift"), out.Slopes("crank_angle")
	for figure, s := range rows {
		lift.Set(figure, s.lift)
		angle.Set(figure, s.angle)
	}
	return true
}
