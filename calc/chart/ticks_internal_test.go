package chart

import (
	"math"
	"testing"
)

// Ticks lie within the scale, evenly, on round values, three to eight of them, and there is an end to them whatever the
// scale. Round values are those of preferred numbers 1, 2, 5 (common practice).
func TestLevelTicks(t *testing.T) {
	for lo := -3.0; lo < 3; lo += 0.37 {
		for _, wide := range []float64{1e-6, 0.003, 0.7, 1, 3, 12, 999, 1e6} {
			at := level(lo*wide, lo*wide+wide)
			if len(at) < 3 || len(at) > 8 {
				t.Errorf("%g wide from %g: %d ticks", wide, lo*wide, len(at))
				continue
			}
			step := at[1] - at[0]
			lead := step / math.Pow(10, math.Floor(math.Log10(step)+1e-9))
			if r := math.Round(lead); math.Abs(lead-r) > 1e-6 || r != 1 && r != 2 && r != 5 {
				t.Errorf("a step of %g", step)
			}
			for i, v := range at {
				if v < lo*wide-wide*1e-6 || v > lo*wide+wide*(1+1e-6) || math.Abs(v-at[0]-float64(i)*step) > wide*1e-9 {
					t.Errorf("tick %g of a scale %g to %g", v, lo*wide, lo*wide+wide)
				}
			}
		}
	}
	for _, far := range []float64{1e17, 1e300, math.Inf(1), math.NaN()} {
		if n := len(level(far, far*(1+1e-15))); n > mostTicks {
			t.Errorf("%d ticks at %g", n, far)
		}
	}
}
