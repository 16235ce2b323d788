package bench

import (
	"errors"
	"fmt"
	"math"
)

// LeastStudy is how many readings a study wants at least: from fewer a standard deviation says next to nothing.
const LeastStudy = 3

// CheckOf is a gauge's check against setting standards. shown holds what the gauge showed less the size of the standard,
// in the gauge's base unit, one of each standard; uStandard is the standard uncertainty (k = 1) of the standards in the
// same unit. Error is the largest of them, without sign; U is uStandard and the standard deviation of shown together, as
// the root of the sum of squares, with one degree of freedom less than there are standards. It fails where nothing was
// shown, or where a number is none.
func CheckOf(gauge string, shown []float64, uStandard float64) (Check, error) {
	if len(shown) == 0 {
		return Check{}, errors.New("a check wants at least one standard and what the gauge shows on it")
	}
	if err := finite(append(shown[:len(shown):len(shown)], uStandard)); err != nil {
		return Check{}, err
	}
	if uStandard < 0 {
		return Check{}, fmt.Errorf("the uncertainty of the standards is %g: want 0 or more", uStandard)
	}
	c := Check{Gauge: gauge, U: math.Hypot(uStandard, deviation(shown)), Dof: float64(len(shown) - 1)}
	for _, e := range shown {
		c.Error = max(c.Error, math.Abs(e))
	}
	return c, nil
}

// StudyOf is a study of a gauge's repeatability. shown holds what it showed at one and the same size, seated anew each
// time, less that size, in its base unit; U is their standard deviation. It fails on fewer than LeastStudy readings.
func StudyOf(gauge string, shown []float64) (Check, error) {
	if len(shown) < LeastStudy {
		return Check{}, fmt.Errorf("a study wants at least %d readings, %d given", LeastStudy, len(shown))
	}
	if err := finite(shown); err != nil {
		return Check{}, err
	}
	return Check{Gauge: gauge, Study: true, U: deviation(shown), Dof: float64(len(shown) - 1)}, nil
}

// deviation is the standard deviation with n − 1: √(Σ(x − mean)²/(n − 1)); 0 of fewer than two.
func deviation(xs []float64) float64 {
	if len(xs) < 2 {
		return 0
	}
	var mean, sum float64
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(xs)-1))
}

func finite(xs []float64) error {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("%g is no size", x)
		}
	}
	return nil
}
