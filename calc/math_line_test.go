package calc_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"thoud/calc"
)

// near holds a figure against a published one within half of its last digit.
func nearTo(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s is %v, want %v ± %v", what, got, want, within)
	}
}

// JCGM 100:2008, H.3: calibration of a thermometer, eleven readings; the line b = y1 + y2·(t − 20 °C), its uncertainties and
// their correlation, and the correction at 30 °C.
func TestLineOfAThermometer(t *testing.T) {
	at := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	for i := range at {
		at[i] -= 20
	}
	l, err := calc.FitLine(at, b, make([]float64, len(at)))
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "y1", l.Intercept, -0.1712, 0.00005)
	nearTo(t, "u(y1)", l.UIntercept, 0.0029, 0.00005)
	nearTo(t, "y2", l.Slope, 0.00218, 0.000005)
	nearTo(t, "u(y2)", l.USlope, 0.00067, 0.000005)
	nearTo(t, "r", l.Correlation, -0.930, 0.0005)
	y, u := l.At(10)
	nearTo(t, "b(30 °C)", y, -0.1494, 0.00005)
	nearTo(t, "u(b(30 °C))", u, 0.0041, 0.00005)
	nearTo(t, "ν", l.Dof, 9, 0)
	nearTo(t, "t(0.975, 9)", l.K, 2.262, 0.0005) // NIST/SEMATECH e-Handbook, 1.3.6.7.2
}

// A value of half the uncertainty weighs as much as four of it. Computed independently, no published example.
func TestAWeightIsSoManyValues(t *testing.T) {
	once, err := calc.FitLine([]float64{0, 10, 20}, []float64{1, 3, 4}, []float64{0.2, 0.1, 0.2})
	many, err2 := calc.FitLine([]float64{0, 10, 10, 10, 10, 20}, []float64{1, 3, 3, 3, 3, 4}, []float64{0.2, 0.2, 0.2, 0.2, 0.2, 0.2})
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	nearTo(t, "slope", once.Slope, many.Slope, 1e-12)
	nearTo(t, "intercept", once.Intercept, many.Intercept, 1e-12)
}

// Two values with their uncertainties: b = Δy/Δx, u(b) = √(u₁² + u₂²)/Δx. Meets is where the line is, and about it.
func TestWearMeetsItsLimit(t *testing.T) {
	l, err := calc.FitLine([]float64{0, 10}, []float64{70, 70.02}, []float64{0.001, 0.001})
	if err != nil {
		t.Fatal(err)
	}
	nearTo(t, "slope", l.Slope, 0.002, 1e-12)
	nearTo(t, "u of it", l.USlope, math.Sqrt2*1e-4, 1e-12)
	x, from, to, ok := l.Meets(70.05)
	nearTo(t, "met at", x, 25, 1e-9)
	if !ok || from >= x || to <= x {
		t.Fatalf("between %v and %v", from, to)
	}
	for _, end := range []float64{from, to} {
		y, u := l.At(end)
		nearTo(t, "distance of the limit in u", math.Abs(y-70.05)/u, 2, 1e-6)
	}
	if flat, _ := calc.FitLine([]float64{0, 10}, []float64{70, 70.0015}, []float64{0.001, 0.001}); flat.Slope != 0 {
		if _, _, _, ok := flat.Meets(70.05); ok {
			t.Error("a wear within its uncertainty meets no limit")
		}
	}
}

func TestNoLine(t *testing.T) {
	for name, c := range map[string]struct {
		x, y, u []float64
		want    error
	}{
		"one":                {[]float64{1}, []float64{1}, []float64{1}, calc.ErrFewValues},
		"two without":        {[]float64{1, 2}, []float64{1, 2}, []float64{0, 1}, calc.ErrFewValues},
		"of one place":       {[]float64{3, 3, 3}, []float64{1, 2, 3}, []float64{1, 1, 1}, calc.ErrOnePlace},
		"not a number":       {[]float64{1, math.NaN(), 3}, []float64{1, 2, 3}, []float64{1, 1, 1}, calc.ErrNotFinite},
		"infinite":           {[]float64{1, 2, 3}, []float64{1, math.Inf(1), 3}, []float64{1, 1, 1}, calc.ErrNotFinite},
		"of unequal lengths": {[]float64{1, 2, 3}, []float64{1, 2}, []float64{1, 1, 1}, calc.ErrFewValues},
	} {
		if _, err := calc.FitLine(c.x, c.y, c.u); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

// The true place where a limit is met lies within what is told in 95 % of a thousand engines.
func TestWhereALimitIsMetIsTrueNineteenTimesOfTwenty(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	hit, all := 0, 0
	for range 4000 {
		x := []float64{0, 12, 20, 33}
		y, u := make([]float64, 4), make([]float64, 4)
		for i := range x {
			u[i] = 0.002
			y[i] = 71 + 0.001*x[i] + u[i]*rng.NormFloat64()
		}
		l, err := calc.FitLine(x, y, u)
		if err != nil {
			t.Fatal(err)
		}
		if _, from, to, ok := l.Meets(71.08); ok {
			all++
			if from <= 80 && 80 <= to {
				hit++
			}
		}
	}
	if share := float64(hit) / float64(all); all < 3500 || share < 0.94 || share > 0.99 {
		t.Errorf("%d of %d: %.3f", hit, all, share)
	}
}
