package calc

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// polynomial is y = Σ c[k]·z^k with z = (x − middle)/half, in −1 … 1 over what it was fitted to.
type polynomial struct {
	c            []float64
	middle, half float64
}

var errNoPolynomial = errors.New("the readings do not determine the curve")

// fitPolynomial fits by weighted least squares; weights nil are all 1. It fails where there are too few different x.
func fitPolynomial(degree int, x, y, weight []float64) (polynomial, error) {
	p := polynomial{}
	if len(x) <= degree {
		return p, errNoPolynomial
	}
	low, high := x[0], x[0]
	for _, v := range x {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	p.middle, p.half = (low+high)/2, (high-low)/2
	if !(p.half > 0) {
		return p, errNoPolynomial
	}
	a, b := mat.NewDense(len(x), degree+1, nil), mat.NewVecDense(len(x), nil)
	for i := range x {
		w := 1.0
		if weight != nil {
			w = math.Sqrt(weight[i])
		}
		z, power := (x[i]-p.middle)/p.half, w
		for k := range degree + 1 {
			a.Set(i, k, power)
			power *= z
		}
		b.SetVec(i, w*(y[i]-y[0])) // about the first, so that small form keeps its digits
	}
	var qr mat.QR
	var c mat.VecDense
	qr.Factorize(a)
	if cond := qr.Cond(); !(cond < 1e8) || qr.SolveVecTo(&c, false, b) != nil {
		return p, errNoPolynomial
	}
	for k := range degree + 1 {
		p.c = append(p.c, c.AtVec(k))
	}
	p.c[0] += y[0]
	return p, nil
}

// at is the curve, its slope and its bend (first and second derivative) at x.
func (p polynomial) at(x float64) (y, slope, bend float64) {
	z := (x - p.middle) / p.half
	for k := len(p.c) - 1; k >= 0; k-- {
		bend = bend*z + 2*slope
		slope = slope*z + y
		y = y*z + p.c[k]
	}
	return y, slope / p.half, bend / (p.half * p.half)
}

// flats are the places inside what was fitted where the slope is zero: between samples of a fine grid, then by root.
func (p polynomial) flats() []float64 {
	const parts = 200
	slope := func(x float64) float64 { _, s, _ := p.at(x); return s }
	var out []float64
	a := p.middle - p.half
	sa := slope(a)
	for i := 1; i <= parts; i++ {
		b := p.middle + p.half*(2*float64(i)/parts-1)
		sb := slope(b)
		if sa*sb < 0 {
			out = append(out, root(slope, a, b, 1e-10))
		} else if sb == 0 {
			out = append(out, b)
		}
		a, sa = b, sb
	}
	return out
}

// centreGradient is how a place where the slope is zero moves with each reading y and each x of an unweighted fit: by the
// implicit function, −Σ k·z^(k−1)·∂c_k/∂y / p″, and −slope times that for x, with what a residual r turns the fit by.
func (p polynomial) centreGradient(at float64, x, r []float64) (byY, byX []float64) {
	m := len(p.c)
	a := mat.NewDense(len(x), m, nil)
	for i := range x {
		z, power := (x[i]-p.middle)/p.half, 1.0
		for k := range m {
			a.Set(i, k, power)
			power *= z
		}
	}
	z := (at - p.middle) / p.half
	_, _, bend := p.at(at)
	want := mat.NewVecDense(m, nil)
	power := 1.0
	for k := 1; k < m; k++ {
		want.SetVec(k, -float64(k)*power/p.half/bend)
		power *= z
	}
	// want·(AᵀA)⁻¹·Aᵀ: one solution serves all readings.
	var normal mat.SymDense
	normal.SymOuterK(1, a.T())
	var chol mat.Cholesky
	var w mat.VecDense
	byY, byX = make([]float64, len(x)), make([]float64, len(x))
	if !chol.Factorize(&normal) || chol.SolveVecTo(&w, want) != nil {
		return byY, byX
	}
	for i := range x {
		byY[i] = mat.Dot(a.RowView(i), &w)
		_, slope, _ := p.at(x[i])
		byX[i] = -slope * byY[i]
		for k := 1; k < m; k++ {
			byX[i] += r[i] * w.AtVec(k) * float64(k) * a.At(i, k-1) / p.half
		}
	}
	return byY, byX
}
