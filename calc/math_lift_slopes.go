package calc

import "math"

// sampleSlopes is how a place on a curve moves with each sample: degrees a mm of its lift, degrees a degree of its angle.
type sampleSlopes struct{ lift, angle []float64 }

// plus adds w times another; a nil one is all zero.
func (s sampleSlopes) plus(w float64, t sampleSlopes) sampleSlopes {
	if s.lift == nil {
		s = sampleSlopes{make([]float64, len(t.lift)), make([]float64, len(t.angle))}
	}
	for i := range t.lift {
		s.lift[i] += w * t.lift[i]
		s.angle[i] += w * t.angle[i]
	}
	return s
}

// leastFlank is the slope of a flank, mm a degree, under which a crossing has no sharp place.
const leastFlank = 1e-6

// crossingSlopes is how the place where the curve passes a height between knot i and the next moves with the samples, and with
// the height itself (degrees a mm); ok is false where the curve lies flat there. The cubic between two knots follows one more on
// each side; by the implicit function a place moves by −∂y/∂knot over the slope of the curve.
func (c *liftCurve) crossingSlopes(i int, height float64) (s sampleSlopes, withHeight float64, ok bool) {
	at := c.crossing(i, height)
	slope := c.piece(i, i+1).slope(at)
	if !(math.Abs(slope) > leastFlank) {
		return s, 0, false
	}
	const h = 1e-5 // mm and degrees
	byLift, byAngle := make([]float64, c.n), make([]float64, c.n)
	for k := i - 1; k <= i+2; k++ {
		knot := c.index(k)
		byLift[knot] -= (c.pieceMoved(i, k, 0, h).at(at) - c.pieceMoved(i, k, 0, -h).at(at)) / (2 * h) / slope
		byAngle[knot] -= (c.pieceMoved(i, k, h, 0).at(at) - c.pieceMoved(i, k, -h, 0).at(at)) / (2 * h) / slope
	}
	s = sampleSlopes{make([]float64, len(c.of)), make([]float64, len(c.of))}
	for sample, knot := range c.of {
		s.lift[sample] = byLift[knot] * c.share[sample]
	}
	for knot := range c.n {
		s.angle[c.lead[knot]] += byAngle[knot]
	}
	return s, 1 / slope, true
}

// index is the knot of the cycle behind an unwrapped one.
func (c *liftCurve) index(k int) int { return ((k % c.n) + c.n) % c.n }

// pieceMoved is the cubic between knot i and the next with one knot moved.
func (c *liftCurve) pieceMoved(i, knot int, angle, lift float64) *liftPiece {
	const margin = 2
	x, y := make([]float64, 2+2*margin), make([]float64, 2+2*margin)
	for k := range x {
		x[k], y[k] = c.knot(i - margin + k)
		if i-margin+k == knot {
			x[k], y[k] = x[k]+angle, y[k]+lift
		}
	}
	p := new(liftPiece)
	_ = p.Fit(x, y) // growing angles, which knots far apart against h are
	return p
}

// lobeSlopes is how the places of one lobe move with its samples.
type lobeSlopes struct {
	side             string
	sign             float64
	opening, closing sampleSlopes
	middles          []sampleSlopes // at each height
	asymmetry        sampleSlopes
	nose             sampleSlopes
	most             sampleSlopes
}

// slopesOf works out the slopes of one lobe's figures; follow says that the heights are shares of the most lift and so move
// with it.
func (c *liftCurve) slopesOf(side string, height float64, heights []float64, follow bool) (l lobeSlopes, ok bool) {
	l = lobeSlopes{side: side, sign: 1}
	if side == "exhaust" {
		l.sign = -1
	}
	l.most = sampleSlopes{make([]float64, len(c.of)), make([]float64, len(c.of))}
	for sample, knot := range c.of {
		if knot == c.nose {
			l.most.lift[sample] = c.share[sample]
		}
	}
	both := func(h float64) (o, cl sampleSlopes, withHeight float64, ok bool) {
		i, j := c.eventKnots(h)
		o, oh, okO := c.crossingSlopes(i, h)
		cl, ch, okC := c.crossingSlopes(j, h)
		return o, cl, (oh + ch) / 2, okO && okC
	}
	if l.opening, l.closing, _, ok = both(height); !ok {
		return l, false
	}
	lowest, highest := height, height
	half := sampleSlopes{}.plus(0.5, l.opening).plus(0.5, l.closing)
	low, high := half, half
	for _, h := range heights {
		o, cl, withHeight, okH := both(h)
		if !okH {
			return l, false
		}
		m := sampleSlopes{}.plus(0.5, o).plus(0.5, cl)
		if follow {
			m = m.plus(withHeight*h/c.most, l.most)
		}
		l.middles = append(l.middles, m)
		if h < lowest {
			lowest, low = h, m
		}
		if h > highest {
			highest, high = h, m
		}
	}
	l.asymmetry = sampleSlopes{}.plus(1, high).plus(-1, low)
	return l, true
}

// setNose puts in how the nose follows the samples it was fitted to.
func (l *lobeSlopes) setNose(n noseFit, samples int) {
	l.nose = sampleSlopes{make([]float64, samples), make([]float64, samples)}
	for i, m := range n.member {
		l.nose.lift[m] = n.byLift[i]
		l.nose.angle[m] = n.byAngle[i]
	}
}

// tellSlopes gives Run the slopes of every figure of one or two lobes.
func tellSlopes(out *Out, lobes []lobeSlopes) {
	angle := out.Slopes("crank_angle")
	if angle == nil {
		return
	}
	lifts := map[string]*Slopes{}
	for _, l := range lobes {
		lift := out.Slopes(l.side + "_lift")
		lifts[l.side] = lift
		set := func(figure string, at int, s sampleSlopes) {
			lift.SetAt(figure, at, s.lift)
			angle.SetAt(figure, at, s.angle)
		}
		set(l.side+"_opening", 0, sampleSlopes{}.plus(-1, l.opening))
		set(l.side+"_closing", 0, l.closing)
		set(l.side+"_duration", 0, sampleSlopes{}.plus(1, l.closing).plus(-1, l.opening))
		set(l.side+"_centre", 0, l.centre())
		for i, m := range l.middles {
			set(l.side+"_midpoints", i, sampleSlopes{}.plus(l.sign, m))
		}
		set(l.side+"_asymmetry", 0, l.asymmetry)
		set(l.side+"_lift", 0, l.most)
		if l.nose.lift != nil {
			set(l.side+"_nose", 0, sampleSlopes{}.plus(l.sign, l.nose))
		}
	}
	if len(lobes) < 2 {
		return
	}
	inlet, exhaust := lobes[0], lobes[1]
	in, ex := lifts["inlet"], lifts["exhaust"]
	both := func(figure string, wi float64, i sampleSlopes, we float64, e sampleSlopes) {
		in.Set(figure, sampleSlopes{}.plus(wi, i).lift)
		ex.Set(figure, sampleSlopes{}.plus(we, e).lift)
		angle.Set(figure, sampleSlopes{}.plus(wi, i).plus(we, e).angle)
	}
	both("lobe_separation", 0.5, inlet.centre(), 0.5, exhaust.centre())
	both("advance", -0.5, inlet.centre(), 0.5, exhaust.centre())
	both("overlap", -1, inlet.opening, 1, exhaust.closing)
}

func (l lobeSlopes) centre() sampleSlopes {
	return sampleSlopes{}.plus(l.sign/2, l.opening).plus(l.sign/2, l.closing)
}
