package calc

import "math"

// Shares of the most lift between which the nose of a lobe is fitted: over the upper where there are samples enough, else
// over the lower.
const (
	noseShare     = 0.9
	wideNoseShare = 0.8
	noseSamples   = 7
)

// noseFit is the centre of a lobe's nose by least squares, with what it was fitted to.
type noseFit struct {
	centre    float64 // crank degrees, unwrapped about the sample of most lift
	model     float64 // half-width of what the curve may be wrong by
	member    []int   // the samples it was fitted to
	residuals []float64
	slopes    []float64 // of the curve at each, mm a degree
	byLift    []float64 // of the centre with the lift of each, degrees a mm
	byAngle   []float64 // and with its angle
}

// fitNose fits a full quartic, odd terms too, over the samples above 90 % of the lift, or above 80 % where there are fewer than
// seven; a lobe whose flanks differ drags a fit of even terms to its longer side. The centre is where the curve is highest. What
// the curve is wrong by shows in how far its centre lies from the middle of equal lifts at 80 %: 0.3 of that, or 0.6 with the
// wider window. ok is false where there are fewer than seven samples above 80 %, or they make no nose.
func (c *liftCurve) fitNose(angle, lift []float64) (n noseFit, ok bool) {
	share := 0.3
	member, x := c.noseMembers(angle, noseShare*c.most)
	if len(member) < noseSamples {
		share = 0.6
		member, x = c.noseMembers(angle, wideNoseShare*c.most)
	}
	if len(member) < noseSamples {
		return n, false
	}
	y := make([]float64, len(member))
	for i, m := range member {
		y[i] = lift[m]
	}
	p, err := fitPolynomial(4, x, y, nil)
	if err != nil {
		return n, false
	}
	top, _ := c.knot(c.nose)
	best := math.Inf(1)
	for _, at := range p.flats() {
		if _, _, bend := p.at(at); bend < 0 && math.Abs(at-top) < best {
			best, n.centre, ok = math.Abs(at-top), at, true
		}
	}
	if !ok {
		return n, false
	}
	o, cl, _ := c.events(wideNoseShare * c.most)
	n.model = share * math.Abs(n.centre-(o+cl)/2)
	n.member = member
	for i := range x {
		fitted, slope, _ := p.at(x[i])
		n.residuals, n.slopes = append(n.residuals, y[i]-fitted), append(n.slopes, slope)
	}
	n.byLift, n.byAngle = p.centreGradient(n.centre, x, n.residuals)
	return n, true
}

// noseMembers are the samples within the stretch about the most lift that has at least this lift, with their angles
// unwrapped.
func (c *liftCurve) noseMembers(angle []float64, least float64) (member []int, x []float64) {
	first, last := c.nearSamples(least)
	from, _ := c.knot(first)
	to, _ := c.knot(last)
	middle := (from + to) / 2
	for i, a := range angle {
		if a = nearest(a, middle, cycle); a >= from-nearAngle && a <= to+nearAngle {
			member, x = append(member, i), append(x, a)
		}
	}
	return member, x
}
