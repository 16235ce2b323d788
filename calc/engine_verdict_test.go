package calc

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

// ISO 14253-1 on limits 72.040/72.060 with U 0.003, computed by hand; boundaries inclusive.
func TestDecide(t *testing.T) {
	limits := Limit{Lower: ptr(72.040), Upper: ptr(72.060)}
	for _, tc := range []struct {
		value float64
		want  Verdict
	}{
		{72.0425, VerdictTooClose}, {72.0430, VerdictIn}, {72.0575, VerdictTooClose}, {72.0631, VerdictOut}, {72.0629, VerdictTooClose},
		{72.0570, VerdictIn}, {72.0570001, VerdictTooClose}, {72.0370, VerdictTooClose}, {72.0369999, VerdictOut}, {72.0630, VerdictTooClose},
	} {
		if got := Decide(quantity.Length, tc.value, 0.003, limits, 1); got != tc.want {
			t.Errorf("%g: got %q, want %q", tc.value, got, tc.want)
		}
		res := mustRun(t, Request{Method: "decide", Kind: quantity.Length, Inputs: map[string]Val{"value": num(tc.value), "U": num(0.003), "lower": num(72.040), "upper": num(72.060)}})
		if f, _ := res.Figure("verdict"); f.Text[0] != string(tc.want) {
			t.Errorf("method, %g: got %q, want %q", tc.value, f.Text, tc.want)
		}
	}
	// The guard factor is a setting: at 1.65 u of the 2 u that U is, 72.0575 is in (JCGM 106, from memory).
	if got := Decide(quantity.Length, 72.0575, 0.003, limits, 1.65/2); got != VerdictIn {
		t.Errorf("guard 0.825: got %q, want in", got)
	}
	for _, open := range []Limit{{Lower: ptr(1)}, {Upper: ptr(1)}} {
		if got := Decide(quantity.Length, 1, 0, open, 1); got != VerdictIn {
			t.Errorf("on an open-sided limit: got %q", got)
		}
	}
	// JCGM 106 conformity probability, computed independently.
	res := mustRun(t, Request{Method: "decide", Kind: quantity.Length, Inputs: map[string]Val{"value": num(72.0575), "U": num(0.003), "lower": num(72.040), "upper": num(72.060)}})
	near(t, "conformity", value(t, res, "conformity"), 0.9522, 5e-5)
	for name, in := range map[string]map[string]Val{
		"no limit": {"value": num(1), "U": num(1)}, "negative U": {"value": num(1), "U": num(-1), "lower": num(0)}, "crossed": {"value": num(1), "U": num(1), "lower": num(2), "upper": num(1)},
	} {
		if _, err := Run(Request{Method: "decide", Inputs: in}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// A boundary met exactly counts as inside however the numbers were come by: sums of decimals that no float64 holds.
func TestDecideBoundaryHasNoRoundingNoise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lower := rapid.Int64Range(0, 100_000_000).Draw(t, "lower") // 10 nm
		u := rapid.Int64Range(1, 100_000).Draw(t, "u")
		mm := func(n int64) float64 { return float64(n) / 100_000 }
		for _, value := range []float64{mm(lower) + mm(u), mm(lower + u), mm(lower+u+7) - mm(7), mm(lower) - -mm(u)} {
			if got := Decide(quantity.Length, value, mm(u), Limit{Lower: ptr(mm(lower))}, 1); got != VerdictIn {
				t.Fatalf("%.17g with U %g against %g: got %q, want in", value, mm(u), mm(lower), got)
			}
		}
		if got := Decide(quantity.Length, mm(lower+u)-1e-7, mm(u), Limit{Lower: ptr(mm(lower))}, 1); got != VerdictTooClose {
			t.Fatalf("a tenth of a nanometre short: got %q", got)
		}
	})
}

// With more uncertainty a verdict never changes from in to out or back: only towards too close to call.
func TestDecideMoreUncertaintyOnlyBlurs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, lo := rapid.Float64Range(-1, 1).Draw(t, "y"), rapid.Float64Range(-1, 1).Draw(t, "lower")
		l := Limit{Lower: &lo, Upper: ptr(lo + rapid.Float64Range(0, 1).Draw(t, "width"))}
		u := rapid.Float64Range(0, 0.5).Draw(t, "u")
		sure, blurred := Decide(quantity.Length, y, 0, l, 1), Decide(quantity.Length, y, u, l, 1)
		if blurred != sure && blurred != VerdictTooClose {
			t.Fatalf("%q without uncertainty, %q with", sure, blurred)
		}
	})
}

func TestReasonSaysWhatToDo(t *testing.T) {
	req := func(now float64, l Limit, gaugeOnly bool) Request {
		return Request{Method: "contact-clearance", Digits: 0.0005 * inch, GaugeOnly: gaugeOnly, Limits: map[string]Limit{"clearance_now": l}, Inputs: map[string]Val{
			"protrusion": {List: []Num{{X: 0.2 * inch, Us: []Component{{U: 0.001 * inch / 2}}}}}, "clearance": num(0.05 * inch), "side": {Text: "outside"}, "now": num(now * inch),
		}}
	}
	band := Limit{Lower: ptr(0.049 * inch), Upper: ptr(0.053 * inch)}
	for _, tc := range []struct {
		name string
		req  Request
		want Verdict
		says []string
	}{
		{"close below", req(0.2495, band, false), VerdictTooClose, []string{"0.0005 in", "better gauge", "another seating", "make it 0.0005 in (0.013 mm) more"}},
		{"close above", req(0.2535, band, true), VerdictTooClose, []string{"make it 0.0015 in (0.038 mm) less", "gauge only"}},
		{"in", req(0.251, band, false), VerdictIn, []string{"inside the limits by at least 0.0020 in"}},
		{"out", req(0.260, band, false), VerdictOut, []string{"outside by 0.0070 in"}},
		{"narrow", req(0.25, Limit{Lower: ptr(0.0498 * inch), Upper: ptr(0.0502 * inch)}, false), VerdictTooClose, []string{"no value can be clearly inside"}},
	} {
		res := mustRun(t, tc.req)
		f, _ := res.Figure("clearance_now")
		if f.Verdict != tc.want || res.Verdict != tc.want {
			t.Errorf("%s: got %q, want %q", tc.name, f.Verdict, tc.want)
		}
		for _, s := range tc.says {
			if !strings.Contains(f.Reason, s) {
				t.Errorf("%s: %q does not say %q", tc.name, f.Reason, s)
			}
		}
	}
}

// Following the advice makes it clear: made more or less by the amount in the reason, the verdict is in.
func TestAdviceOfTooCloseHolds(t *testing.T) {
	advice := regexp.MustCompile(`make it .*\(([0-9.]+) mm\) (more|less)`)
	rapid.Check(t, func(t *rapid.T) {
		l := Limit{Lower: ptr(1.0), Upper: ptr(1.2)}
		u := rapid.Float64Range(0.001, 0.02).Draw(t, "u")
		y := *l.Lower + u*rapid.Float64Range(-0.99, 0.99).Draw(t, "from the limit")
		if rapid.Bool().Draw(t, "upper") {
			y = *l.Upper - (y - *l.Lower)
		}
		if got := Decide(quantity.Length, y, u, l, 1); got != VerdictTooClose {
			t.Fatalf("got %q", got)
		}
		s := reason(quantity.Length, y, u, 1, VerdictTooClose, l, Request{Digits: 0.001}, shownWith)
		said := advice.FindStringSubmatch(s)
		if said == nil {
			t.Fatalf("no advice in %q", s)
		}
		move, err := strconv.ParseFloat(said[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if said[2] == "less" {
			move = -move
		}
		if got := Decide(quantity.Length, y+move, u, l, 1); got != VerdictIn || math.Abs(move) > 2*u+0.01 {
			t.Fatalf("%q: after %g it is %q", s, move, got)
		}
	})
}

func TestListVerdictIsTheWorst(t *testing.T) {
	fr := FigureResult{Kind: quantity.Length, List: []float64{1, 2, 3.05}, ULists: []float64{0.1, 0.1, 0.1}, U: 0.1, Limit: &Limit{Upper: ptr(3)}}
	decideFigure(&fr, Request{}, true)
	if fr.Verdict != VerdictTooClose || !strings.HasPrefix(fr.Reason, "number 3 of 3: ") {
		t.Errorf("got %q, %q", fr.Verdict, fr.Reason)
	}
}
