package calc

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// noseShare is how much of the most lift a sample needs to count for the nose fit: about 40° either side.
const noseShare = 0.8

// fitNose finds the centre of a lobe's nose by least squares: lift = l₀ + q₂·(θ − c)² + q₄·(θ − c)⁴, unknown l₀, q₂, q₄
// and c, by Gauss–Newton. Five samples at least; ok is false where they do not make a nose.
func fitNose(angle, lift []float64) (centre float64, ok bool) {
	n := len(angle)
	if n < 5 {
		return 0, false
	}
	// Scaled to ±1 the normal equations are well conditioned (below 10³), and cheap for many samples.
	middle, half := (angle[0]+angle[n-1])/2, (angle[n-1]-angle[0])/2
	if half <= 0 {
		return 0, false
	}
	c := 0.0
	q2, q4 := -1.0, 0.0
	normal, rhs := mat.NewSymDense(4, nil), mat.NewVecDense(4, nil)
	var chol mat.Cholesky
	var x mat.VecDense
	for iteration := range 60 {
		normal.Zero()
		rhs.Zero()
		for i := range angle {
			u := (angle[i]-middle)/half - c
			row := [4]float64{1, u * u, u * u * u * u, -2*q2*u - 4*q4*u*u*u}
			for j, a := range row {
				for k := j; k < 4; k++ {
					normal.SetSym(j, k, normal.At(j, k)+a*row[k])
				}
				rhs.SetVec(j, rhs.AtVec(j)+a*lift[i])
			}
		}
		if !chol.Factorize(normal) || chol.SolveVecTo(&x, rhs) != nil {
			return 0, false
		}
		q2, q4 = x.AtVec(1), x.AtVec(2)
		step := math.Max(-0.5, math.Min(0.5, x.AtVec(3)))
		c += step
		if math.Abs(c) > 2 {
			return 0, false
		}
		// The first pass has a guessed curvature, so its step says nothing yet.
		if iteration > 0 && math.Abs(step) < 1e-12 {
			return middle + half*c, q2 < 0
		}
	}
	return 0, false
}
