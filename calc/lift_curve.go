package calc

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/interp"
)

// cycle is a four-stroke cycle in degrees of crank.
const cycle = 720

// liftCurve is a valve's lift over the cycle, from samples in any order: sorted round the cycle, samples at one angle
// averaged, joined by a monotone cubic (Fritsch and Butland 1984, by gonum) that runs on across 0/720. Degrees of crank
// and mm.
type liftCurve struct {
	x, y  []float64 // knots, margin of them repeated from the other end at either end
	n     int       // knots of one cycle
	nose  int       // the knot with the most lift
	most  float64
	least float64
	cubic interp.FritschButland
}

// curveMargin is how many knots are repeated at either end; the cubic looks at one neighbour each side.
const curveMargin = 3

// sameAngle is how near two samples must be to be the same angle, degrees.
const sameAngle = 1e-6

// newLiftCurve needs four different angles at least; lengths must be equal.
func newLiftCurve(angle, lift []float64) (*liftCurve, bool) {
	order, wrapped := sortedCycle(angle)
	m := 0
	x := make([]float64, curveMargin, len(angle)+2*curveMargin)
	y := make([]float64, curveMargin, len(angle)+2*curveMargin)
	count := 0.0
	for _, i := range order {
		a := wrapped[i]
		if m > 0 && a-x[len(x)-1] <= sameAngle {
			count++
			y[len(y)-1] += (lift[i] - y[len(y)-1]) / count
			continue
		}
		x, y = append(x, a), append(y, lift[i])
		count, m = 1, m+1
	}
	if m < curveMargin+1 {
		return nil, false
	}
	for i := range curveMargin {
		x[i], y[i] = x[m+i]-cycle, y[m+i]
	}
	for i := range curveMargin {
		x, y = append(x, x[curveMargin+i]+cycle), append(y, y[curveMargin+i])
	}
	c := &liftCurve{x: x, y: y, n: m, most: math.Inf(-1), least: math.Inf(1)}
	for i, v := range y[curveMargin : curveMargin+m] {
		if v > c.most {
			c.nose, c.most = i, v
		}
		c.least = math.Min(c.least, v)
	}
	if err := c.cubic.Fit(x, y); err != nil {
		return nil, false
	}
	return c, true
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

// at is the lift at any crank angle.
func (c *liftCurve) at(a float64) float64 { return c.cubic.Predict(wrap(a, cycle)) }

// slope is the change of lift, mm a degree.
func (c *liftCurve) slope(a float64) float64 { return c.cubic.PredictDerivative(wrap(a, cycle)) }

// knot gives the i-th sample going round and round, i of any sign: angle unwrapped.
func (c *liftCurve) knot(i int) (angle, lift float64) {
	turns := i / c.n
	if i < turns*c.n {
		turns--
	}
	k := curveMargin + i - turns*c.n
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
	nose := c.nose
	least := math.Inf(1)
	base := nose
	for i := nose - c.n/2; i > nose-c.n/2-c.n; i-- { // the base circle: least lift, nearest to opposite the nose
		if _, y := c.knot(i); y < least-sameLift {
			least, base = y, i
		}
	}
	for base <= nose-c.n {
		base += c.n
	}
	up := base
	for ; up < nose; up++ {
		if _, y := c.knot(up); y >= height-sameLift {
			break
		}
	}
	down := base + c.n
	for ; down > nose; down-- {
		if _, y := c.knot(down); y >= height-sameLift {
			break
		}
	}
	return c.crossing(up-1, height), c.crossing(down, height), c.rests(up, up+1, height) || c.rests(down, down-1, height)
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
	return root(func(x float64) float64 { return c.at(x) - height }, a, b, 1e-9)
}

// nearSamples gives the samples within the lobe of at least this lift around the sample of most lift, angles unwrapped.
func (c *liftCurve) nearSamples(lift float64) (angle, y []float64) {
	nose := c.nose
	first, last := nose, nose
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
	for i := first; i <= last; i++ {
		a, v := c.knot(i)
		angle, y = append(angle, a), append(y, v)
	}
	return angle, y
}

// covered is how far samples reach either side of an angle without a gap wider than this, at most half a cycle.
func (c *liftCurve) covered(about, widest float64) (before, after float64) {
	next := sort.SearchFloat64s(c.x[curveMargin:curveMargin+c.n], wrap(about, cycle)) // first sample at or after
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
