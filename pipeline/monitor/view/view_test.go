package view

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

func ptr(x float64) *float64 { return &x }

// TestRuleStands puts a part on the rule before, within and past its band, coming from either side. Numbers by hand.
func TestRuleStands(t *testing.T) {
	down := bench.Band{Lower: ptr(12.6), Upper: ptr(12.7), Target: 12.65, Now: ptr(13.9)} // to be moved from 13.9 down
	up := bench.Band{Lower: ptr(-1.1), Upper: ptr(-0.9), Target: -1, Now: ptr(-3)}
	for _, row := range []struct {
		band   bench.Band
		x      float64
		side   string
		mm, in string
		near   float64
	}{
		{down, 13.9, "before", "1.250 mm", "0.0492 in", 0},
		{down, 13.275, "before", "0.625 mm", "0.0246 in", 0.5},
		{down, 12.7, "in", "0.050 mm", "0.0020 in", 0.96},
		{down, 12.65, "in", "0.000 mm", "0.0000 in", 1},
		{down, 12.5, "past", "0.150 mm", "0.0059 in", 0.88},
		{up, -2, "before", "1.000 mm", "0.0394 in", 0.5},
		{up, -1, "in", "0.000 mm", "0.0000 in", 1},
		{up, -0.5, "past", "0.500 mm", "0.0197 in", 0.75},
	} {
		l := newRule(row.band, quantity.Length, 0.00254).Stand(row.x)
		if l.Side != row.side || l.To.MM != row.mm || l.To.Inch != row.in || math.Abs(l.Near-row.near) > 1e-9 {
			t.Errorf("at %v of %v: %s, %s (%s), near %v; want %s, %s (%s), %v", row.x, row.band.Target, l.Side, l.To.MM, l.To.Inch, l.Near, row.side, row.mm, row.in, row.near)
		}
	}
}

// TestRuleHoldsAll says that whatever a band is, it is on the rule with its target, that no mark leaves the rule, and that
// more is always further right.
func TestRuleHoldsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		some := rapid.Float64Range(-1e3, 1e3)
		b := bench.Band{Target: some.Draw(t, "target")}
		if rapid.Bool().Draw(t, "lower given") {
			b.Lower = ptr(b.Target - math.Abs(some.Draw(t, "below")))
		}
		if rapid.Bool().Draw(t, "upper given") {
			b.Upper = ptr(b.Target + math.Abs(some.Draw(t, "above")))
		}
		if rapid.Bool().Draw(t, "now given") {
			b.Now = ptr(some.Draw(t, "now"))
		}
		r := newRule(b, quantity.Length, 0.001)
		for _, x := range []*float64{&b.Target, b.Lower, b.Upper, b.Now} {
			if x != nil && (*x < r.Least || *x > r.Most) {
				t.Fatalf("%v is not on the rule from %v to %v", *x, r.Least, r.Most)
			}
		}
		x, y := some.Draw(t, "x"), some.Draw(t, "y")
		if at := r.at(x); at < 0 || at > 1 || math.IsNaN(at) {
			t.Fatalf("%v stands at %v", x, at)
		}
		if x < y && r.at(x) > r.at(y) {
			t.Fatalf("%v stands at %v, %v at %v", x, r.at(x), y, r.at(y))
		}
		for _, system := range []string{"mm", "inch"} {
			if n := len(r.Ticks(system)); n < 5 || n > 70 {
				t.Fatalf("%d divisions in %s", n, system)
			}
		}
	})
}

// TestShown prints values in both systems, without digits that were not there. 25.4 mm an inch, exactly.
func TestShown(t *testing.T) {
	for _, row := range []struct{ sent, mm, inch string }{
		{"0.0375 in", "0.953 mm", "0.0375 in"}, {"0.5000 in", "12.700 mm", "0.5000 in"}, {"1.270 mm", "1.270 mm", "0.05000 in"},
		{"-0.0005 in", "-0.013 mm", "-0.0005 in"}, {"0 in", "0 mm", "0 in"}, {"28 deg", "28°", "28°"}, {"101.5 g", "101.5 g", "3.580 oz"},
	} {
		v, err := quantity.Parse(row.sent)
		if err != nil {
			t.Fatal(err)
		}
		if got := Shown(v); got.MM != row.mm || got.Inch != row.inch {
			t.Errorf("%s: %q and %q, want %q and %q", row.sent, got.MM, got.Inch, row.mm, row.inch)
		}
	}
}

// TestNearPoints keeps the point in work among those beside the drawing.
func TestNearPoints(t *testing.T) {
	for n := range 30 {
		for here := range n {
			all := make([]PointView, n)
			all[here].Here = true
			near := nearPoints(all)
			found := false
			for _, p := range near {
				found = found || p.Here
			}
			if !found || len(near) > nearMost {
				t.Errorf("point %d of %d: %d beside the drawing, found %v", here, n, len(near), found)
			}
		}
	}
}
