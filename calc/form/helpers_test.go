package form

import (
	"math"
	"testing"

	"thoud/calc"
)

// mustFind finds a method of the table.
func mustFind(tb testing.TB, name string) calc.Method {
	tb.Helper()
	m, ok := calc.Find(name)
	if !ok {
		tb.Fatalf("no method %s", name)
	}
	return m
}

// near fails unless got is within tol of want.
func near(tb testing.TB, what string, got, want, tol float64) {
	tb.Helper()
	if !(math.Abs(got-want) <= tol) {
		tb.Errorf("%s: got %.17g, want %.17g ± %g", what, got, want, tol)
	}
}

func ptr(x float64) *float64 { return &x }
