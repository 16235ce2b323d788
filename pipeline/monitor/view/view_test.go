package view

import (
	"math"
	"strconv"
	"strings"
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
		side   Side
		way    string
		mm, in string
		near   float64
		moving bool
	}{
		{down, 13.9, Before, "down", "1.250 mm", "0.0492 in", 0, false}, // where it was read: it has not been moved yet
		{down, 13.275, Before, "down", "0.625 mm", "0.0246 in", 0.5, true},
		{down, 12.7, Within, "", "0.050 mm", "0.0020 in", 0.96, true},
		{down, 12.65, Within, "", "0.000 mm", "0.0000 in", 1, true},
		{down, 12.5, Past, "up", "0.150 mm", "0.0059 in", 0.88, true},
		{down, 2, Past, "up", "10.650 mm", "0.4193 in", 0, false}, // the gauge does not stand on the part
		{up, -2, Before, "up", "1.000 mm", "0.0394 in", 0.5, true},
		{up, -1, Within, "", "0.000 mm", "0.0000 in", 1, true},
		{up, -0.5, Past, "down", "0.500 mm", "0.0197 in", 0.75, true},
	} {
		s := newRule(row.band, quantity.Length, 0.00254, "towards the cam", "away from the cam").Stand(row.x)
		if s.Side != row.side || s.Way != row.way || s.To.MM != row.mm || s.To.Inch != row.in || math.Abs(s.Near-row.near) > 1e-9 || s.Moving != row.moving {
			t.Errorf("at %v of %v: %+v; want %+v", row.x, row.band.Target, s, row)
		}
		words := map[string]string{"up": "towards the cam", "down": "away from the cam", "": ""}[row.way]
		if s.Go != words {
			t.Errorf("at %v of %v: go %q, want %q", row.x, row.band.Target, s.Go, words)
		}
	}
}

// TestRuleHoldsAll says that whatever a band is, it is on the rule with its target and takes an eighth of it at least,
// that no mark leaves the rule, that more is never further down, and that no two figures touch.
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
		r := newRule(b, quantity.Length, 0.001, "more", "less")
		for _, x := range []*float64{&b.Target, b.Lower, b.Upper} {
			if x != nil && (*x < r.Least || *x > r.Most) {
				t.Fatalf("%v is not on the rule from %v to %v", *x, r.Least, r.Most)
			}
		}
		if b.Now != nil && (*b.Now > r.Most && !r.BrokenUp || *b.Now < r.Least && !r.BrokenDown) {
			t.Fatalf("now %v, rule from %v to %v, broken up %v, down %v", *b.Now, r.Least, r.Most, r.BrokenUp, r.BrokenDown)
		}
		if b.Lower != nil && b.Upper != nil && *b.Upper-*b.Lower > 0.011 {
			if share := (*b.Upper - *b.Lower) / (r.Most - r.Least); share < ruleLeast*0.99 {
				t.Fatalf("the band has %v of the rule", share)
			}
		}
		x, y := some.Draw(t, "x"), some.Draw(t, "y")
		if at := r.y(x); at < ruleTop || at > ruleFoot || math.IsNaN(at) {
			t.Fatalf("%v stands at %v", x, at)
		}
		if x < y && r.y(x) < r.y(y) {
			t.Fatalf("%v stands at %v, %v at %v", x, r.y(x), y, r.y(y))
		}
		for _, system := range []string{"mm", "inch"} {
			if n := strings.Count(r.Ticks(system), "M"); n < 5 || n > 70 {
				t.Fatalf("%d divisions in %s", n, system)
			}
		}
		labels := r.Labels()
		for i, l := range labels {
			for _, m := range labels[i+1:] {
				a, _ := strconv.ParseFloat(l.Y, 64)
				b, _ := strconv.ParseFloat(m.Y, 64)
				if math.Abs(a-b) < 46 { // the height of a line of figures
					t.Fatalf("figures at %v and %v touch", a, b)
				}
			}
		}
	})
}

// TestFiguresDoNotFlicker holds the figure that is shown while the gauge goes to and fro by one count, and lets it go on
// when the part moves or comes to rest.
func TestFiguresDoNotFlicker(t *testing.T) {
	const count = 0.0127 // 0.0005 in
	for _, row := range []struct {
		shown, x float64
		still    bool
		want     float64
	}{
		{10, 10 + count, false, 10}, {10, 10 - count, false, 10}, {10, 10 + 2*count, false, 10 + 2*count}, {10, 10 + count, true, 10 + count},
	} {
		if got := Steady(row.shown, row.x, count, row.still); got != row.want {
			t.Errorf("shown %v, new %v, still %v: %v, want %v", row.shown, row.x, row.still, got, row.want)
		}
	}
}

// TestTypeset parts no number from its unit, and writes a minus as one.
func TestTypeset(t *testing.T) {
	for in, want := range map[string]string{
		"0.0112 in to go": "0.0112\u00a0in to go", "-0.5 mm": "−0.5\u00a0mm", "± 0.0004 in": "± 0.0004\u00a0in", "pass 2 of 3": "pass 2 of 3",
		"left-hand": "left-hand", "3 left": "3 left", "": "",
	} {
		if got := Typeset(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// TestShown prints values in both systems, without digits that were not there. 25.4 mm an inch, exactly.
func TestShown(t *testing.T) {
	for _, row := range []struct{ sent, mm, inch string }{
		{"0.0375 in", "0.953 mm", "0.0375 in"}, {"0.5000 in", "12.700 mm", "0.5000 in"}, {"1.270 mm", "1.270 mm", "0.05000 in"},
		{"-0.0005 in", "-0.013 mm", "-0.0005 in"}, {"0 in", "0 mm", "0 in"}, {"28 deg", "28°", "28°"}, {"101.5 g", "101.5 g", "101.5 g"},
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
