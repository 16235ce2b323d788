package view

import (
	"fmt"
	"testing"
)

// TestBoltsStandApart: however many bolts there are, no two stand in one place, and the first two are nearest the middle and
// across from one another.
func TestBoltsStandApart(t *testing.T) {
	for n := 1; n <= 24; n++ {
		seen := map[string]int{}
		first := 0.0
		for i := range n {
			x, y := crosswise(i, n)
			at := fmt.Sprint(x, y)
			if j, taken := seen[at]; taken {
				t.Errorf("%d bolts: bolts %d and %d both stand at %s", n, j+1, i+1, at)
			}
			seen[at] = i
			if far := x*x + y*y; i < 2 {
				first = far
			} else if far < first-1e-9 {
				t.Errorf("%d bolts: bolt %d is nearer the middle than the first", n, i+1)
			}
		}
		if x0, y0 := crosswise(0, n); n > 1 {
			if x1, y1 := crosswise(1, n); x1 != -x0 || y1 != -y0 {
				t.Errorf("%d bolts: the second at %v, %v is not across from the first at %v, %v", n, x1, y1, x0, y0)
			}
		}
	}
}

// TestBoltNumber tells bolts from other points.
func TestBoltNumber(t *testing.T) {
	for in, want := range map[string]string{"bolt-3": "3", "left.bolt-12": "12", "left.contact": "", "bolt-x": "", "3": ""} {
		if got := boltNumber(in); got != want {
			t.Errorf("%s: %q, want %q", in, got, want)
		}
	}
}
