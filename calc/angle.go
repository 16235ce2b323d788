package calc

import (
	"math"
	"slices"
)

// widestGap is the widest gap between angles on a circle of the given period: what coverage is judged by.
func widestGap(angles []float64, period float64) float64 {
	if len(angles) == 0 {
		return period
	}
	a := make([]float64, len(angles))
	for i, x := range angles {
		a[i] = wrap(x, period)
	}
	slices.Sort(a)
	gap := period - a[len(a)-1] + a[0]
	for i := 1; i < len(a); i++ {
		gap = math.Max(gap, a[i]-a[i-1])
	}
	return gap
}

// wrap brings an angle into [0, period).
func wrap(x, period float64) float64 {
	x = math.Mod(x, period)
	if x < 0 {
		x += period
	}
	return x
}

// listU is the largest combined standard uncertainty among a list's values.
func listU(in Args, name string) float64 {
	in.decl(name, List)
	u := 0.0
	for _, n := range in.vals[name].List {
		u = math.Max(u, n.StdU())
	}
	return u
}

// StdU combines a number's components (they are independent of one another within one input).
func (n Num) StdU() float64 {
	s := 0.0
	for _, c := range n.Us {
		s += c.U * c.U
	}
	return math.Sqrt(s)
}
