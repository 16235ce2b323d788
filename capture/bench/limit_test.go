package bench_test

import (
	"math"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// The guide block's clearance of the shipped plan is held to 0.048 to 0.052 in; a build may have its own engine data,
// and its own limit beside them, which counts.
func TestLimitsOfABuild(t *testing.T) {
	p, err := plan.Load("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	step, _ := p.Step("guide-clearance")
	length := func(text string) *quantity.Value {
		v, err := quantity.ParseAs(quantity.Length, text)
		if err != nil {
			t.Fatal(err)
		}
		return &v
	}
	b := &bench.Build{Plan: p}
	check := func(lower, upper float64, source string) { // in; NaN for an open side
		t.Helper()
		l := b.Limit(step, "left", "clearance_now")
		for _, side := range []struct {
			got  *float64
			want float64
		}{{l.Lower, lower}, {l.Upper, upper}} {
			if (side.got == nil) != math.IsNaN(side.want) || side.got != nil && math.Abs(*side.got/25.4-side.want) > 1e-12 {
				t.Errorf("limit %+v, want %g to %g in", l, lower, upper)
			}
		}
		if l.Source != source {
			t.Errorf("source %q, want %q", l.Source, source)
		}
	}
	check(0.048, 0.052, "builder's choice")
	b.Overrides = append(b.Overrides, bench.OverrideMade{Override: bench.Override{What: "engine", Name: "guide_clearance_most", Value: length("0.053 in")}, Mark: bench.Mark{Reason: "hotter cam"}})
	check(0.048, 0.053, "builder's choice: hotter cam")
	b.Overrides = append(b.Overrides, bench.OverrideMade{Override: bench.Override{What: "limit", Name: "guide-clearance.clearance_now", Lower: length("0.040 in")}, Mark: bench.Mark{Reason: "sprint only"}})
	check(0.040, math.NaN(), "builder's choice: sprint only")
	if got, _ := step.Compute.Limits["clearance_now"]; got.Upper == nil || math.Abs(*got.Upper/25.4-0.052) > 1e-12 {
		t.Errorf("the plan itself was changed: %+v", got)
	}
}
