package store

import "testing"

// An uncertainty of 3e-29 is the rounding of a processor, and another processor rounds otherwise; one that is of any size
// is held to a millionth.
func TestUncertaintiesAgreeBetweenProcessors(t *testing.T) {
	for _, c := range []struct {
		a, b float64
		want bool
	}{
		{2.74259969989e-29, 2.73688595052e-29, true}, {0, 1e-20, true}, {0.001, 0.0010000000009, true},
		{0.001, 0.00100001, false}, {1e-9, 2e-9, false}, {0, 1e-12, false},
	} {
		if got := nearU(c.a, c.b); got != c.want {
			t.Errorf("U %g and %g agree: %t, want %t", c.a, c.b, got, c.want)
		}
	}
}
