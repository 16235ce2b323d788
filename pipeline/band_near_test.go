package pipeline

import (
	"math"
	"testing"
)

// A clearance that ends at contact is a straight line on one side only; the band lies on that line wherever the part
// stands now. Plane geometry.
func TestBandFollowsAFigureThatEndsFlat(t *testing.T) {
	clearance := func(x float64) (float64, bool) { return math.Max(0, 5-x), true } // contact at 5, clearance below
	for _, at := range []float64{5, 4.9, 4.999, 5.02, 5.3, 6.9, 2} {
		x, y, slope, ok := straightNear(at, clearance)
		if !ok || math.Abs(slope+1) > 1e-9 || math.Abs(x+(1.27-y)/slope-3.73) > 1e-9 {
			t.Errorf("from %g: slope %g (%v), 1.27 of clearance at %g, want at 3.73", at, slope, ok, x+(1.27-y)/slope)
		}
	}
	if _, _, _, ok := straightNear(0, func(float64) (float64, bool) { return 1, true }); ok {
		t.Error("a figure that does not follow the reading has a band")
	}
}
