package calc

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// cycle is a four-stroke cycle in degrees of crank.
const cycle = 720

// liftCurve is a valve's lift over the cycle, from samples in any order: sorted round the cycle, samples at one angle,
// within 0.05°, averaged, joined by a monotone cubic (Fritsch and Butland 1984, by gonum) that runs on across 0/720. Degrees of crank
// and mm.
type liftCurve struct {
	x, y  []float64 // the knots of one cycle
	n     int
	of    []int     // the knot each sample went into
	share []float64 // and its weight in that knot's lift
	lead  []int     // the sample whose angle each knot has
	nose  int       // the knot with the most lift
	base  int       // the knot of the base circle before it: the least lift, nearest to opposite the nose
	most  float64
	least float64
}

// leastKnots is how many different angles a curve needs; the cubic between two knots looks at one more each side.
const leastKnots = 4

// sameAngle is how near two samples must be to be the same angle of the cycle, degrees.
const sameAngle = 1e-6

// nearAngle is how near two samples must be to count as one, degrees: less than a shaft turned by hand stands still by.
// Without it two samples at nearly one angle, a count of the gauge apart, would make a slope of their own.
const nearAngle = 0.05

// newLiftCurve needs four different angles at least; lengths must be equal.
func newLiftCurve(angle, lift []float64) (*liftCurve, bool) {
	order, wrapped := sortedCycle(angle)
	x, y := make([]float64, 0, len(angle)), make([]float64, 0, len(angle))
	of, share := make([]int, len(angle)), make([]float64, len(angle))
	lead, counts := make([]int, 0, len(angle)), make([]float64, 0, len(angle))
	for _, i := range order {
		a, last := wrapped[i], len(x)-1
		if last >= 0 && a-x[last] <= nearAngle {
			counts[last]++
			y[last] += (lift[i] - y[last]) / counts[last]
			of[i] = last
			continue
		}
		of[i] = len(x)
		x, y, lead, counts = append(x, a), append(y, lift[i]), append(lead, i), append(counts, 1)
	}
	for i := range share {
		share[i] = 1 / counts[of[i]]
	}
	// A trace of two whole turns ends where it began: the first and the last sample are one place too.
	if last := len(x) - 1; last > 0 && x[0]+cycle-x[last] <= nearAngle {
		y[0] = (y[0] + y[last]) / 2
		x, y = x[:last], y[:last]
		for i := range of {
			if of[i] == last {
				of[i] = 0
			}
			if of[i] == 0 {
				share[i] /= 2
			}
		}
	}
	if len(x) < leastKnots {
		return nil, false
	}
	c := &liftCurve{x: x, y: y, n: len(x), of: of, share: share, lead: lead, most: math.Inf(-1), least: math.Inf(1)}
	for i, v := range y {
		if v > c.most {
			c.nose, c.most = i, v
		}
		c.least = math.Min(c.least, v)
	}
	c.base = c.baseBefore()
	return c, true
}

// baseBefore finds the base circle in the turn of the camshaft before the nose.
func (c *liftCurve) baseBefore() int {
	least, base := math.Inf(1), c.nose
	for i := c.nose - c.n/2; i > c.nose-c.n/2-c.n; i-- {
		if _, y := c.knot(i); y < least-sameLift {
			least, base = y, i
		}
	}
	if base <= c.nose-c.n {
		base += c.n
	}
	return base
}

// sortedCycle wraps angles into the cycle and gives their order; samples taken in order are not sorted again.
func sortedCycle(angle []float64) (order []int, wrapped []float64) {
	order, wrapped = make([]int, len(angle)), make([]float64, len(angle))
	start := 0
	for i, a := range angle {
		wrapped[i] = wrap(a, cycle)
		if wrapped[i] >= cycle-sameAngle {
			wrapped[i] -= cycle
		}
		if i > 0 && wrapped[i] < wrapped[i-1] && start == 0 {
			start = i
		}
	}
	for i := range order {
		order[i] = (start + i) % len(order)
	}
	byAngle := func(i, j int) int {
		switch {
		case wrapped[i] < wrapped[j]:
			return -1
		case wrapped[i] > wrapped[j]:
			return 1
		}
		return 0
	}
	if !slices.IsSortedFunc(order, byAngle) {
		slices.SortFunc(order, byAngle)
	}
	return order, wrapped
}

// liftPiece is the cubic through a part of a curve; angles are unwrapped.
type liftPiece struct{ interp.FritschButland }

// piece joins the knots from one to another, by their unwrapped indices, as they are joined on the whole curve.
func (c *liftCurve) piece(from, to int) *liftPiece {
	const margin = 2
	n := to - from + 1 + 2*margin
	x, y := make([]float64, n), make([]float64, n)
	for i := range x {
		x[i], y[i] = c.knot(from - margin + i)
	}
	p := new(liftPiece)
	// Fit never fails; it wants growing angles, which knots are.
	_ = p.Fit(x, y)
	return p
}

// between joins the knots from one crank angle to another, as these are given.
func (c *liftCurve) between(low, high float64) *liftPiece {
	shift := low - wrap(low, cycle)
	first := sort.SearchFloat64s(c.x, low-shift) - 1
	last := first
	for {
		last++
		if a, _ := c.knot(last); a >= high-shift {
			break
		}
	}
	turns := int(math.Round(shift/cycle)) * c.n
	return c.piece(first+turns, last+turns)
}

// at is the lift at a crank angle.
func (p *liftPiece) at(a float64) float64 { return p.Predict(a) }

// slope is the change of lift, mm a degree.
func (p *liftPiece) slope(a float64) float64 { return p.PredictDerivative(a) }

// knot gives the i-th sample going round and round, i of any sign: angle unwrapped.
func (c *liftCurve) knot(i int) (angle, lift float64) {
	turns := i / c.n
	if i < turns*c.n {
		turns--
	}
	k := i - turns*c.n
	return c.x[k] + float64(turns*cycle), c.y[k]
}

// widest is the widest gap between samples, with where it begins.
func (c *liftCurve) widest() (gap, from float64) {
	for i := range c.n {
		a, _ := c.knot(i)
		b, _ := c.knot(i + 1)
		if b-a > gap {
			gap, from = b-a, a
		}
	}
	return gap, from
}

// sameLift is how near a lift must be to a height to be at it, mm: rounding of the conversion, no more.
const sameLift = 1e-9

// events gives opening and closing at a height: the first angle with so much lift walking up from the base circle, and
// the last. Angles are unwrapped about the sample of most lift. flat reports that the lift rests at just this height
// next to an event, so that the event is the end of a plateau. The height must lie under the most lift and over the
// least.
func (c *liftCurve) events(height float64) (opening, closing float64, flat bool) {
	i, j := c.eventKnots(height)
	return c.crossing(i, height), c.crossing(j, height), c.rests(i+1, i+2, height) || c.rests(j, j-1, height)
}

// eventKnots are the knots after which the curve passes the height, up and down.
func (c *liftCurve) eventKnots(height float64) (up, down int) {
	nose, base := c.nose, c.base
	up = base
	for ; up < nose; up++ {
		if _, y := c.knot(up); y >= height-sameLift {
			break
		}
	}
	down = base + c.n
	for ; down > nose; down-- {
		if _, y := c.knot(down); y >= height-sameLift {
			break
		}
	}
	return up - 1, down
}

func (c *liftCurve) rests(i, j int, height float64) bool {
	_, a := c.knot(i)
	_, b := c.knot(j)
	return math.Abs(a-height) <= sameLift && math.Abs(b-height) <= sameLift
}

// crossing is where the curve passes a height between sample i and the next; the samples lie either side of it.
func (c *liftCurve) crossing(i int, height float64) float64 {
	a, ya := c.knot(i)
	b, yb := c.knot(i + 1)
	switch {
	case math.Abs(ya-height) <= sameLift:
		return a
	case math.Abs(yb-height) <= sameLift:
		return b
	}
	p := c.piece(i, i+1)
	return root(func(x float64) float64 { return p.at(x) - height }, a, b, 1e-12)
}

// nearSamples gives the first and the last knot of the stretch about the most lift that has at least this lift.
func (c *liftCurve) nearSamples(lift float64) (first, last int) {
	nose := c.nose
	first, last = nose, nose
	for first > nose-c.n/2 {
		if _, v := c.knot(first - 1); v < lift {
			break
		}
		first--
	}
	for last < nose+c.n/2 {
		if _, v := c.knot(last + 1); v < lift {
			break
		}
		last++
	}
	return first, last
}

// baseCircle is the lift of the base circle, the median of the knots outside the lobe that lie under 5 % of its height; ok is
// false where there are fewer than five of them.
func (c *liftCurve) baseCircle() (base float64, ok bool) {
	low := c.least + baseShare*(c.most-c.least)
	first, last := c.nearSamples(low)
	var out []float64
	for i := last + 1; i < first+c.n; i++ {
		if _, v := c.knot(i); v < low {
			out = append(out, v)
		}
	}
	if len(out) < baseSamples {
		return 0, false
	}
	slices.Sort(out)
	return (out[(len(out)-1)/2] + out[len(out)/2]) / 2, true
}

const (
	baseShare   = 0.05
	baseSamples = 5
)

// gaps are the places without a sample for more than so many degrees: the knots that they follow.
func (c *liftCurve) gaps(widest float64) []int {
	var out []int
	for i := range c.n {
		a, _ := c.knot(i)
		b, _ := c.knot(i + 1)
		if b-a > widest+1e-9 {
			out = append(out, i)
		}
	}
	return out
}

// knotsNear is how many knots either side of a place can move the curve there: two for the cubic and its slopes at its ends, one
// for the place itself moving on.
const knotsNear = 3

// membersNear are the samples that can move the curve at a crank angle.
func (c *liftCurve) membersNear(angle []float64, place float64) []int {
	next := sort.SearchFloat64s(c.x, wrap(place, cycle))
	shift := place - wrap(place, cycle)
	from, _ := c.knot(next - knotsNear - 1)
	to, _ := c.knot(next + knotsNear)
	var out []int
	for i, a := range angle {
		if a = nearest(a, place, cycle) - shift; a >= from-nearAngle && a <= to+nearAngle {
			out = append(out, i)
		}
	}
	return out
}

// covered is how far samples reach either side of an angle without a gap wider than this, at most half a cycle.
func (c *liftCurve) covered(about, widest float64) (before, after float64) {
	next := sort.SearchFloat64s(c.x, wrap(about, cycle)) // first sample at or after
	shift := about - wrap(about, cycle)
	from := func(i int) float64 { a, _ := c.knot(i); return a + shift - about }
	if from(next)-from(next-1) > widest+1e-9 {
		return 0, 0
	}
	i := next
	for from(i+1)-from(i) <= widest+1e-9 && from(i+1) <= cycle/2 {
		i++
	}
	after = math.Max(0, from(i))
	for i = next - 1; from(i)-from(i-1) <= widest+1e-9 && from(i-1) >= -cycle/2; {
		i--
	}
	return math.Max(0, -from(i)), after
}
