package calc

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Line is a straight line y = Intercept + Slope·x through values that were measured: a dimension over the hours that an
// engine ran. UIntercept and USlope are standard uncertainties, Correlation is that of the two, K the factor to 95 %.
type Line struct {
	Intercept, Slope        float64
	UIntercept, USlope      float64
	Correlation             float64
	Dof                     float64 // 0 where the uncertainties are known, not found from the scatter
	K                       float64
	Widened                 float64 // by what the scatter beyond the stated uncertainties widened them; 1 not at all
	sumW, meanX, spreadX    float64
	atMean, uAtMean, uSlope float64
}

// Faults of a line.
var (
	ErrFewValues = errors.New("a line wants two values with their uncertainties, or three without")
	ErrOnePlace  = errors.New("a line wants values of different places")
	ErrNotFinite = errors.New("a value is no number")
)

// FitLine fits a straight line by least squares, each value weighted by its standard uncertainty:
//
//	w = 1/u²   b = Σw(x − x̄)(y − ȳ)/Σw(x − x̄)²   u²(b) = 1/Σw(x − x̄)²   u²(ȳ) = 1/Σw
//
// Where the values scatter more than their uncertainties allow, these are widened by √(χ²/(n − 2)). Where any has none, all
// weigh the same and the scatter alone says how well the line is known, with n − 2 degrees of freedom (JCGM 100:2008, H.3;
// NIST/SEMATECH e-Handbook, 4.1.4.3, for the weights).
func FitLine(x, y, u []float64) (Line, error) {
	n := len(x)
	if n != len(y) || n != len(u) || n < 2 {
		return Line{}, ErrFewValues
	}
	stated := true
	for i := range x {
		if math.IsNaN(x[i]+y[i]+u[i]) || math.IsInf(x[i]+y[i]+u[i], 0) {
			return Line{}, ErrNotFinite
		}
		stated = stated && u[i] > 0
	}
	if !stated && n < 3 {
		return Line{}, ErrFewValues
	}
	weight := func(i int) float64 {
		if stated {
			return 1 / (u[i] * u[i])
		}
		return 1
	}
	var l Line
	var sx, sy float64
	for i := range x {
		l.sumW += weight(i)
		sx += weight(i) * x[i]
		sy += weight(i) * y[i]
	}
	l.meanX, l.atMean = sx/l.sumW, sy/l.sumW
	var sxy float64
	for i := range x {
		d := x[i] - l.meanX
		l.spreadX += weight(i) * d * d
		sxy += weight(i) * d * (y[i] - l.atMean)
	}
	if l.spreadX <= 0 || l.spreadX < 1e-18*l.sumW*l.meanX*l.meanX {
		return Line{}, ErrOnePlace
	}
	l.Slope = sxy / l.spreadX
	var chi2 float64
	for i := range x {
		r := y[i] - l.atMean - l.Slope*(x[i]-l.meanX)
		chi2 += weight(i) * r * r
	}
	l.finish(chi2, n, stated)
	return l, nil
}

// finish works the uncertainties out of the sum of squares.
func (l *Line) finish(chi2 float64, n int, stated bool) {
	l.K, l.Widened = 2, 1
	scale := 1.0
	switch {
	case !stated:
		l.Dof = float64(n - 2)
		scale = math.Sqrt(chi2 / l.Dof)
		l.K = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: l.Dof}.Quantile(0.975)
	case n > 2:
		l.Widened = max(1, math.Sqrt(chi2/float64(n-2)))
		scale = l.Widened
	}
	l.uAtMean, l.uSlope = scale/math.Sqrt(l.sumW), scale/math.Sqrt(l.spreadX)
	l.USlope = l.uSlope
	l.Intercept = l.atMean - l.Slope*l.meanX
	l.UIntercept = math.Hypot(l.uAtMean, l.meanX*l.uSlope)
	if l.UIntercept > 0 {
		l.Correlation = -l.meanX * l.uSlope / l.UIntercept
	}
}

// At is the line at a place, with its standard uncertainty there.
func (l Line) At(x float64) (y, u float64) {
	return l.atMean + l.Slope*(x-l.meanX), math.Hypot(l.uAtMean, (x-l.meanX)*l.uSlope)
}

// Meets says where the line meets a limit, and between which places it may, with 95 % confidence: where the limit lies
// within K·u of the line (the roots of (y(x) − limit)² = K²·u²(x)). false where the slope is not known well enough to say
// that it meets it at all.
func (l Line) Meets(limit float64) (x, from, to float64, ok bool) {
	k := l.K
	if math.Abs(l.Slope) <= k*l.uSlope {
		return 0, 0, 0, false
	}
	x = l.meanX + (limit-l.atMean)/l.Slope
	// (A + b·d)² = k²(p + q·d²), d = x − x̄, A = ȳ − limit
	a := l.Slope*l.Slope - k*k*l.uSlope*l.uSlope
	half := l.Slope * (l.atMean - limit)
	c := (l.atMean-limit)*(l.atMean-limit) - k*k*l.uAtMean*l.uAtMean
	root := math.Sqrt(max(0, half*half-a*c))
	return x, l.meanX + (-half-root)/a, l.meanX + (-half+root)/a, true
}
