package calc

import "math"

// root finds where f changes sign between a and b, f(a)·f(b) ≤ 0, to within tol, by the false position with halving
// (Illinois) kept inside the bracket by bisection. gonum has no scalar root finder.
func root(f func(float64) float64, a, b, tol float64) float64 {
	fa, fb := f(a), f(b)
	if fa == 0 {
		return a
	}
	side := 0
	for i := range 200 {
		if fb == 0 || math.Abs(b-a) <= tol {
			return b
		}
		x := (a*fb - b*fa) / (fb - fa)
		if i%8 == 7 || !(x > math.Min(a, b) && x < math.Max(a, b)) {
			x = (a + b) / 2
		}
		fx := f(x)
		switch {
		case fx == 0:
			return x
		case (fx > 0) == (fb > 0):
			b, fb = x, fx
			if side == 1 {
				fa /= 2
			}
			side = 1
		default:
			a, fa = x, fx
			if side == -1 {
				fb /= 2
			}
			side = -1
		}
	}
	return (a + b) / 2
}
