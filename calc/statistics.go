package calc

import (
	"math"

	"thoud/calc/quantity"
)

// statistics summarises values in the order they were taken.
//
//	mean = x₁ + Σ(xᵢ − x₁)/n      sd = √(Σ(xᵢ − mean)²/(n − 1))      lag1 = Σ dᵢ·dᵢ₋₁/Σ dᵢ², dᵢ = xᵢ − mean
//
// In the unit of the values; lag1 has none. Differences from the first value are summed, with compensation, so that small
// scatter on a large number keeps its digits. One value has no sd, equal values no lag1. NIST/SEMATECH e-Handbook,
// univariate summary statistics.
func statistics() Method {
	return Method{
		Name: "statistics", Version: 1, Title: "Mean, scatter and drift of values",
		Inputs: []Input{{Name: "values", Shape: List, Kind: AnyKind, Doc: "the values, in the order they were taken"}},
		Figures: []Figure{
			{Name: "n", Kind: quantity.Number, Choice: true, Doc: "how many"},
			{Name: "mean", Kind: AnyKind, Doc: "arithmetic mean"},
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
	out.Set("sd", s.sd)
	if s.sd > 0 {
		out.Set("lag1", s.lag1)
	}
	return nil
}

type summary struct{ mean, sd, lag1, least, greatest float64 }

// summarise computes on differences from the first value; x is not empty.
func summarise(x []float64) summary {
	s := summary{least: x[0], greatest: x[0]}
	var shift, squares, lagged sum
	for _, v := range x {
		shift.add(v - x[0])
		s.least, s.greatest = math.Min(s.least, v), math.Max(s.greatest, v)
	}
	n := float64(len(x))
	offset := shift.total() / n
	s.mean = x[0] + offset
	last := 0.0
	for i, v := range x {
		d := v - x[0] - offset
		squares.add(d * d)
		if i > 0 {
			lagged.add(d * last)
		}
		last = d
	}
	if len(x) > 1 {
		s.sd = math.Sqrt(squares.total() / (n - 1))
	}
	if squares.total() > 0 {
		s.lag1 = lagged.total() / squares.total()
	}
	return s
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
