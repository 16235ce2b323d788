package pipeline_test

import (
	"math"
	"testing"

	"thoud/capture/bench"
)

// Head bolts are pulled in three rounds, each told in figures before it is pulled: a third, two thirds, the whole. At one friction
// torque goes with the force (VDI 2230, tightening torque of a bolt), so the rounds are thirds of the
// whole, to the digits of a force that is worked out of another.
func TestHeadBoltsAreToldInThirds(t *testing.T) {
	s := newShopOf(t, twinText(t))
	s.at(bench.StepEntered, "head-bolts", 0)
	torque := func(key string) float64 {
		r := s.given("head-bolts", 0, key)
		f, _ := r.Figure("torque")
		if f.Value == nil || len(r.Orders()) != 1 || !r.Orders()[0].Target {
			t.Fatalf("%q: %+v, told %+v", key, f, r.Orders())
		}
		return *f.Value
	}
	third, two, whole := torque(""), torque("two-thirds"), torque("whole")
	if math.Abs(3*third-whole) > 1e-4*whole || math.Abs(1.5*two-whole) > 1e-4*whole || whole < 10 {
		t.Errorf("%.4f, %.4f, %.4f N·m", third, two, whole)
	}
	for i := range s.state.Builds {
		step, _ := s.state.Builds[i].Plan.Step("head-bolts")
		if a, b, c := step.RunTitle(""), step.RunTitle("two-thirds"), step.RunTitle("whole"); a != "a third" || b != "two thirds" || c != "the whole" {
			t.Errorf("called %q, %q, %q", a, b, c)
		}
	}
}
