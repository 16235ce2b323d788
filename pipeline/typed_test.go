package pipeline_test

import (
	"math"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

// typedPlan has one step whose readings are typed from a plain dial.
const typedPlan = `title = "Typed"
version = 1
cylinders = ["left", "right"]

[[step]]
id = "height"
title = "Height"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "keyed", role = "indicator" }

[[step.point]]
id = "left"
title = "left"

[[step.point]]
id = "right"
title = "right"

[step.compute]
method = "statistics"
per = "pass"
[step.compute.inputs]
values = ["@reading:left", "@reading:right"]
[step.compute.limits]
greatest = { upper = "1 in", source = "a test's" }
`

// How finely a typed value was read is what the dial divides to, where that is known, else the finest that was typed in
// the pass: "0 in" is no reading to the nearest inch. u = one division/√12 (JCGM 100:2008, F.2.2.1).
func TestATypedValueIsAsFineAsItsDial(t *testing.T) {
	for _, c := range []struct {
		divides string
		want    float64 // mm
	}{{"", 0.0001 * 25.4}, {"0.0005 in", 0.0005 * 25.4}} {
		s := newShopOf(t, typedPlan)
		dial := bench.Gauge{Name: "plain", Role: "indicator", Known: bench.KnownKeyed}
		if c.divides != "" {
			dial.Resolution = s.length(c.divides)
		}
		s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &dial})
		s.at(bench.StepEntered, "height", 0)
		s.at(bench.PassOpened, "height", 1)
		for _, value := range []string{"0 in", "0.0215 in"} {
			v := s.length(value)
			s.write(bench.Entry{Kind: bench.ReadingTaken, Place: s.state.Place, Reading: &bench.Reading{Gauge: "plain", Mode: "keyed", Keyed: true, Raw: v, Value: v}})
		}
		s.at(bench.PassClosed, "height", 1)
		r := s.result("height", 1, "")
		for _, n := range r.Request.Inputs["values"].List {
			if got := resolutionIn(n); math.Abs(got-c.want/math.Sqrt(12)) > 1e-9 {
				t.Errorf("dial divided to %q: u of the resolution %.6f mm, want %.6f", c.divides, got, c.want/math.Sqrt(12))
			}
		}
	}
}

func resolutionIn(n calc.Num) float64 {
	for _, u := range n.Us {
		if u.Name == "resolution" {
			return u.U
		}
	}
	return math.NaN()
}
