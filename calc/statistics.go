package calc

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// statistics summarises values in the order they were taken.
//
//	mean = x₁ + Σ(xᵢ − x₁)/n      sd = √(Σ(xᵢ − mean)²/(n − 1))      lag1 = Σ dᵢ·dᵢ₋₁/Σ dᵢ², dᵢ = xᵢ − mean
//
// In the unit of the values; lag1 has none. The mean is of as many readings as there are, so its U is the larger of what
// is stated and of sd/√n; the other figures go by what is stated. Differences from the first value are taken as decimals and
// summed with compensation, so that small scatter on a large number keeps its digits. One value has no sd, equal values no
// lag1. NIST/SEMATECH e-Handbook, univariate summary statistics.
func statistics() Method {
	return Method{
		Name: "statistics", Version: 3, Title: "Mean, scatter and drift of values",
		Inputs: []Input{{Name: "values", Shape: List, Kind: AnyKind, Doc: "the values, in the order they were taken"}},
		Figures: []Figure{
			{Name: "n", Kind: quantity.Number, Choice: true, Unit: "readings", Doc: "how many"},
			{Name: "mean", Kind: AnyKind, Doc: "arithmetic mean"},
			{Name: "difference", Kind: AnyKind, Doc: "of two values, the first less the second: two sides held against each other"},
			{Name: "sd", Kind: AnyKind, Doc: "sample standard deviation (n − 1)"},
			{Name: "lag1", Kind: quantity.Number, Doc: "lag-1 autocorrelation: near 1 the values drift, near −1 they alternate"},
			{Name: "least", Kind: AnyKind, Doc: "smallest value"},
			{Name: "greatest", Kind: AnyKind, Doc: "largest value"},
		},
		Formula:  "mean = Σx/n; sd = √(Σ(x − mean)²/(n − 1)); lag1 = Σ d(i)·d(i−1)/Σ d²",
		Source:   "NIST/SEMATECH e-Handbook; NIST StRD univariate sets as the check",
		Cautions: []string{"Scatter shows how well a reading repeats, not how true it is."},
		Compute:  computeStatistics,
	}
}

func computeStatistics(in Args, out *Out) error {
	x := in.List("values")
	s := summarise(x)
	out.Set("n", float64(len(x)))
	out.Set("mean", s.mean)
	out.Set("least", s.least)
	out.Set("greatest", s.greatest)
	if len(x) < 2 {
		out.Warn("sd: one value has no scatter")
		return nil
	}
	out.Fit(Fit{Figures: []string{"mean"}, Residuals: s.deviations, Unknowns: 1, Readings: []Measured{{Input: "values"}}})
	if len(x) == 2 {
		out.Set("difference", x[0]-x[1])
	}
	out.Set("sd", s.sd)
	if s.sd > 0 {
		out.Set("lag1", s.lag1)
		s.setSlopes(x, out)
	}
	return nil
}

// setSlopes gives how each figure follows each value. Of lag1 = Σ dᵢ·dᵢ₋₁/S, S = Σ d²: (dᵢ₋₁ + dᵢ₊₁ + (d₁ + dₙ)/n − 2·lag1·dᵢ)/S, as
// the mean moves too.
func (s summary) setSlopes(x []float64, out *Out) {
	slopes := out.Slopes("values")
	if slopes == nil {
		return
	}
	n := len(x)
	d := s.deviations
	squares := s.sd * s.sd * float64(n-1)
	mean, sd, lag, least, greatest := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		mean[i], sd[i] = 1/float64(n), d[i]/(float64(n-1)*s.sd)
		lag[i] = (d[0]+d[n-1])/float64(n) - 2*s.lag1*d[i]
		if i > 0 {
			lag[i] += d[i-1]
		}
		if i+1 < n {
			lag[i] += d[i+1]
		}
		lag[i] /= squares
	}
	least[slices.Index(x, s.least)], greatest[slices.Index(x, s.greatest)] = 1, 1
	slopes.Set("mean", mean)
	slopes.Set("sd", sd)
	slopes.Set("lag1", lag)
	slopes.Set("least", least)
	slopes.Set("greatest", greatest)
	if n == 2 {
		slopes.Set("difference", []float64{1, -1})
	}
}

type summary struct {
	mean, sd, lag1, least, greatest float64
	deviations                      []float64 // from the mean
}

// summarise computes on differences from the first value; x is not empty.
func summarise(x []float64) summary {
	s := summary{least: slices.Min(x), greatest: slices.Max(x)}
	diffs := differences(x)
	var shift, squares, lagged sum
	for _, d := range diffs {
		shift.add(d)
	}
	n := float64(len(x))
	offset := shift.total() / n
	s.mean = x[0] + offset
	last := 0.0
	for i, d := range diffs {
		d -= offset
		diffs[i] = d
		squares.add(d * d)
		if i > 0 {
			lagged.add(d * last)
		}
		last = d
	}
	s.deviations = diffs
	if len(x) > 1 {
		s.sd = math.Sqrt(squares.total() / (n - 1))
	}
	if squares.total() > 0 {
		s.lag1 = lagged.total() / squares.total()
	}
	return s
}

// differences gives xᵢ − x₁. Readings are decimals: 10000000.3 − 10000000.2 is 0.1, but not of the float64 nearest to
// them. So the shortest decimals that stand for the values are subtracted, as whole numbers of their last place; where
// they do not fit, the float64 themselves.
func differences(x []float64) []float64 {
	out := make([]float64, len(x))
	places := 0
	for _, v := range x {
		places = max(places, decimalPlaces(v))
	}
	first, ok := wholeOf(x[0], places)
	for i, v := range x {
		n, fits := wholeOf(v, places)
		if ok = ok && fits; !ok {
			break
		}
		out[i] = float64(n-first) / math.Pow10(places)
	}
	if !ok {
		for i, v := range x {
			out[i] = v - x[0]
		}
	}
	return out
}

// decimalPlaces is how many places the shortest decimal of v has.
func decimalPlaces(v float64) int {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if i := strings.IndexByte(s, '.'); i >= 0 {
		return len(s) - i - 1
	}
	return 0
}

// wholeOf is v as a whole number of its last place; false where that is over 4·10¹⁸, so that two may be subtracted.
func wholeOf(v float64, places int) (int64, bool) {
	if places > 18 || !(math.Abs(v)*math.Pow10(places) < 4e18) {
		return 0, false
	}
	n, err := strconv.ParseInt(strings.Replace(strconv.FormatFloat(v, 'f', places, 64), ".", "", 1), 10, 64)
	return n, err == nil
}

// sum adds with Neumaier's compensation.
type sum struct{ s, c float64 }

func (a *sum) add(x float64) {
	t := a.s + x
	if math.Abs(a.s) >= math.Abs(x) {
		a.c += a.s - t + x
	} else {
		a.c += x - t + a.s
	}
	a.s = t
}

func (a *sum) total() float64 { return a.s + a.c }
