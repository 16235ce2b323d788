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
	if x >= period { // a hair under zero rounds up to the whole turn
		return 0
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

// differenceU is the standard uncertainty of the difference of two scalars: what they share (a zero, a master) is in
// both and falls out as far as it is alike.
func (a Args) differenceU(x, y string) float64 {
	a.decl(x, Scalar)
	a.decl(y, Scalar)
	alone, common := 0.0, map[string]float64{}
	for i, name := range []string{x, y} {
		v := a.vals[name]
		if v.Num == nil {
			continue
		}
		for _, c := range v.Num.Us {
			if c.Shared == "" {
				alone += c.U * c.U
			} else {
				common[c.Shared] += c.U * float64(1-2*i)
			}
		}
	}
	for _, u := range common {
		alone += u * u
	}
	return math.Sqrt(alone)
}

// StdU combines a number's components (they are independent of one another within one input).
func (n Num) StdU() float64 {
	s := 0.0
	for _, c := range n.Us {
		s += c.U * c.U
	}
	return math.Sqrt(s)
}

// signed brings an angle into (−period/2, period/2].
func signed(x, period float64) float64 {
	x = wrap(x, period)
	if x > period/2 {
		x -= period
	}
	return x
}

// signedForm gives back how crank angles of one turn are written by whoever took these: signed where one of them is
// negative, else 0 to 360.
func signedForm(readings ...float64) func(float64) float64 {
	for _, r := range readings {
		if r < 0 {
			return func(x float64) float64 { return signed(x, 360) }
		}
	}
	return func(x float64) float64 { return wrap(x, 360) }
}

// circularMean is the direction of the sum of unit vectors at these angles, degrees.
func circularMean(angles []float64) float64 {
	x, y := 0.0, 0.0
	for _, a := range angles {
		s, c := math.Sincos(radians(a))
		x, y = x+c, y+s
	}
	return degrees(math.Atan2(y, x))
}

func sinDeg(a float64) float64 { return math.Sin(radians(a)) }
func cosDeg(a float64) float64 { return math.Cos(radians(a)) }
func tanDeg(a float64) float64 { return math.Tan(radians(a)) }
