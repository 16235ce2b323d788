package calc

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// Least squares of two unknowns give the same bits as the general solver of the numerical library, refusals and all.
func TestTwoUnknownsAreSolvedAsAnyNumberIs(t *testing.T) {
	var s twoUnknowns
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "equations")
		near := rapid.SampledFrom([]float64{1, 1e-3, 1e-7, 1e-11, 1e-15, 1e-17, 0}).Draw(t, "how far the columns are from one direction")
		scale := rapid.SampledFrom([]float64{1, 1e-160, 1e150, 0}).Draw(t, "scale")
		x := rapid.Float64Range(-100, 100)
		a, b := mat.NewDense(n, 2, nil), mat.NewVecDense(n, nil)
		s.rows(n)
		for i := range n {
			p, q, c := x.Draw(t, "a"), x.Draw(t, "b"), x.Draw(t, "c")
			p, q = scale*p, scale*(p+near*q)
			a.Set(i, 0, p)
			a.Set(i, 1, q)
			b.SetVec(i, c)
			s.set(i, p, q, c)
		}
		var qr mat.QR
		var want mat.VecDense
		qr.Factorize(a)
		err := qr.SolveVecTo(&want, false, b)
		for range 2 { // solving changes nothing of what was asked
			gotX, gotY, ok := s.solve()
			if ok != (err == nil) {
				t.Fatalf("solved %t, the library says %v", ok, err)
			}
			if err == nil && !sameBits([]float64{gotX, gotY}, want.RawVector().Data) {
				t.Fatalf("%v, %v; the library says %v", gotX, gotY, want.RawVector().Data)
			}
		}
	})
}

func TestOneEquationDoesNotGiveTwoUnknowns(t *testing.T) {
	var s twoUnknowns
	s.rows(1)
	s.set(0, 1, 2, 3)
	if x, y, ok := s.solve(); ok || math.IsNaN(x+y) {
		t.Errorf("solved: %v, %v", x, y)
	}
}
