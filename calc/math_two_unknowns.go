package calc

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/lapack/gonum"
	"gonum.org/v1/gonum/mat"
)

// twoUnknowns solves overdetermined equations a·x + b·y = c by least squares. It takes the steps of mat.QR, so that what it
// gives is the same to the last bit, but keeps its storage from one use to the next, and estimates the condition only where
// it could matter: a fit of a piston's readings solves tens of thousands of such systems.
type twoUnknowns struct {
	n     int
	a, b  []float64 // rows of two, and what they must give
	qr, c []float64
	tau   [2]float64
	work  [2]float64
}

// rows makes room for so many equations.
func (s *twoUnknowns) rows(n int) {
	if s.n != n {
		all := make([]float64, 6*n)
		s.n, s.a, s.b, s.qr, s.c = n, all[:2*n], all[2*n:3*n], all[3*n:5*n], all[5*n:]
	}
}

// set sets one equation.
func (s *twoUnknowns) set(i int, a, b, c float64) {
	s.a[2*i], s.a[2*i+1], s.b[i] = a, b, c
}

// safeCondition is far below mat.ConditionTolerance (1e16), from which mat.QR refuses; its estimate is never above the true
// condition by more than rounding.
const safeCondition = 1e12

// solve gives x and y; false where the equations do not determine them, or there are fewer than two.
func (s *twoUnknowns) solve() (x, y float64, ok bool) {
	if s.n < 2 {
		return 0, 0, false
	}
	copy(s.qr, s.a)
	copy(s.c, s.b)
	var l gonum.Implementation
	l.Dgeqr2(s.n, 2, s.qr, 2, s.tau[:], s.work[:])
	if !(s.condition() < safeCondition) {
		return s.doubtful()
	}
	l.Dorm2r(blas.Left, blas.Trans, s.n, 1, 2, s.qr, 2, s.tau[:], s.c, 1, s.work[:1])
	if !l.Dtrtrs(blas.Upper, blas.NoTrans, blas.NonUnit, 2, 1, s.qr, 2, s.c, 1) {
		return 0, 0, false
	}
	return s.c[0], s.c[1], true
}

// condition is ‖R‖·‖R⁻¹‖ by the largest sum of a row; not finite where R is singular.
func (s *twoUnknowns) condition() float64 {
	a, b, c := math.Abs(s.qr[0]), math.Abs(s.qr[1]), math.Abs(s.qr[3])
	return max(a+b, c) * max((1+b/c)/a, 1/c)
}

// doubtful leaves the judgement to mat.QR.
func (s *twoUnknowns) doubtful() (x, y float64, ok bool) {
	var qr mat.QR
	var out mat.VecDense
	qr.Factorize(mat.NewDense(s.n, 2, s.a))
	if qr.SolveVecTo(&out, false, mat.NewVecDense(s.n, s.b)) != nil {
		return 0, 0, false
	}
	return out.AtVec(0), out.AtVec(1), true
}
