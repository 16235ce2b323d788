package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// wound is a spring by its wire; the modulus in N/mm².
func wound(wire, outside, active, modulus float64) topIn {
	return topIn{}.num("wire", wire).num("outside", outside).num("active_coils", active).num("modulus", modulus)
}

func nest(springs ...topIn) topIn { return topIn{}.recs("springs", springs...).num("lift", 9.4) }

// The nest of the checks: outer and inner spring, oil-tempered.
func outerInner() (outer, inner topIn) {
	outer = wound(4.2, 33, 4.5, 79500).num("free", 49).num("fitted", 40).num("total_coils", 6.5).text("name", "outer")
	inner = wound(2.9, 23.5, 6, 79500).num("free", 45).num("fitted", 38.5).num("total_coils", 8).text("name", "inner")
	return outer, inner
}

func TestSpringRate(t *testing.T) {
	const sheet = "published EN 13906-1 calculation sheet"
	f := nest(wound(5, 39.6, 9.5, 81500).num("free", 105.8).num("fitted", 88.5)).compute(t, valveSpring())
	f.wantList("rate", []float64{16.181}, 5e-4, sheet)
	// 280 N: deflection 17.3, height 88.5 of a free length of 105.8.
	f.want("seat", 280, 0.5, sheet)
	f.warns("coil bind is not checked")
	// The sheet takes the wire with its tolerance, 5.025, for the sum of gaps: 12.3.
	f = nest(wound(5.025, 39.6, 9.5, 81500)).compute(t, valveSpring())
	f.wantList("least_gaps", []float64{12.25}, 0.005, "computed independently; the sheet prints 12.3")
	// A textbook example (Shigley, example 10-1, from memory): 4.13 lbf/in.
	const lbfPerInch, psi = 0.175126835, 0.00689475729
	f = nest(wound(inch*0.037, inch*0.437, 10.5, 11.85e6*psi)).compute(t, valveSpring())
	f.wantList("rate", []float64{4.13 * lbfPerInch}, 0.005*lbfPerInch, "Shigley, example 10-1 (from memory)")
	f.unset("seat", "margin", "solid", "seat_then")
	nest(wound(4, 30, 9, 79300)).compute(t, valveSpring()).wantList("rate", []float64{16.042}, 5e-4, "computed independently")
	two := topIn{}.num("load_1", 310).num("at_1", 38.0).num("load_2", 640).num("at_2", 28.6)
	f = nest(two).compute(t, valveSpring())
	f.wantList("rate", []float64{35.106}, 5e-4, "computed independently")
	f = nest(two.num("fitted", 38)).compute(t, valveSpring())
	f.want("seat", 310, 1e-9, "the load as measured")
	f.want("open", 640, 1e-9, "the load as measured, 9.4 mm on")
	nest(two.num("rate", 40)).compute(t, valveSpring()).warns("35.11 N/mm by the two loads")
}

func TestSpringNest(t *testing.T) {
	const source = "computed independently"
	outer, inner := outerInner()
	f := nest(outer, inner).compute(t, valveSpring())
	f.wantList("rate", []float64{28.766, 13.400}, 5e-4, source)
	f.want("seat", 346.0, 0.05, source)
	f.want("open", 742.4, 0.05, source)
	f.wantList("margin", []float64{3.30, 5.90}, 5e-3, source)
	f.wantList("solid", []float64{27.3, 23.2}, 1e-9, "coils × wire")
	if f.text("limiting") != "outer" {
		t.Errorf("limiting %q", f.text("limiting"))
	}
	// Half a millimetre of shim: 367.1 N, margin 2.80.
	f = nest(outer, inner).num("seat_wanted", 367.0).list("shims", 0.5, 0.3, 1.0).compute(t, valveSpring())
	f.want("shim", 0.5, 1e-9, source)
	f.want("seat_then", 367.1, 0.05, source)
	f.want("margin_then", 2.80, 5e-3, source)
	f.wantList("pieces", []float64{0.5}, 0, source)
	// The shim sizes of the trade, 0.015, 0.030 and 0.060 in (common practice).
	f = nest(outer, inner).num("seat_wanted", 400).list("shims", inch*0.015, inch*0.030, inch*0.060).num("margin_wanted", inch*0.060).compute(t, valveSpring())
	f.want("shim_for_load", (400-346.0)/42.166, 2e-3, source)
	f.want("shim", inch*0.060, 1e-9, "0.0504 in wanted, 0.060 is the thinnest that reaches it")
	f.want("shim_for_margin", 3.30-inch*0.060, 1e-9, "arithmetic")
	f = nest(outer, inner).num("seat_wanted", 300).list("shims", 0.5).compute(t, valveSpring())
	if a := f.adjustment(); a.Direction != "remove" || a.Amount >= 0 || a.Pieces != nil {
		t.Errorf("too much load: %+v", a)
	}
	// More lift: the outer spring binds.
	nest(outer, inner).num("lift", 13).compute(t, valveSpring()).warns("outer binds")
	nest(outer, inner).num("lift", 12).compute(t, valveSpring()).warns("only 0.700 mm")
}

func TestValveSpringRefuses(t *testing.T) {
	m := valveSpring()
	outer, inner := outerInner()
	nest(topIn{}.num("free", 49)).refused(t, m, "springs[0].modulus", "two loads")
	nest(outer, inner.without("active_coils")).refused(t, m, "springs[1].active_coils")
	nest(outer.num("load_1", 300)).refused(t, m, "springs[0].at_1")
	nest(topIn{}.num("load_1", 310).num("at_1", 38).num("load_2", 640).num("at_2", 38)).refused(t, m, "springs[0].load_2")
	nest(topIn{}.num("load_1", 310).num("at_1", 38).num("load_2", 640).num("at_2", 40)).refused(t, m, "springs[0].load_2")
	nest(outer.num("outside", 6)).refused(t, m, "springs[0].outside", "6.000")
	nest(outer.num("active_coils", 7)).refused(t, m, "springs[0].active_coils")
	nest(outer.num("fitted", 50)).refused(t, m, "springs[0].fitted", "50")
	nest(outer.num("solid", 41)).refused(t, m, "springs[0].solid", "41")
	nest(outer.without("total_coils")).num("margin_wanted", 1.5).refused(t, m, "margin_wanted")
	nest(outer.without("fitted")).num("seat_wanted", 300).refused(t, m, "seat_wanted")
	// 346 N now; 480 N needs 3.18 mm, but the outer spring leaves 3.30 − 1.524.
	nest(outer, inner).num("seat_wanted", 480).num("margin_wanted", inch*0.060).refused(t, m, "seat_wanted", "outer", "3.178", "1.776")
	neverPanics(t, m, nest(outer, inner).num("seat_wanted", 370).list("shims", 0.5, 0.3).num("margin_wanted", 1))
}

// Shimmed as said and measured again, the nest has the load that was promised and at least what is wanted, by the
// thinnest of every stack in the box that reaches it, and the springs do not bind.
func TestSpringShimReachesLoad(t *testing.T) {
	box := []float64{0.381, 0.762, 1.524, 0.5}
	rapid.Check(t, func(t *rapid.T) {
		outer, inner := outerInner()
		wanted := rapid.Float64Range(346.5, 440).Draw(t, "wanted")
		out, err := nest(outer, inner).num("seat_wanted", wanted).list("shims", box...).num("margin_wanted", 1).try(valveSpring())
		if err != nil {
			t.Fatal(err)
		}
		a := out.adjustments[0]
		again, err := nest(outer.num("fitted", 40-a.Amount), inner.num("fitted", 38.5-a.Amount)).try(valveSpring())
		if err != nil {
			t.Fatal(err)
		}
		got := again.nums["seat"]
		if math.Abs(got-out.nums["seat_then"]) > 1e-9 {
			t.Fatalf("measured %v, promised %v", got, out.nums["seat_then"])
		}
		if got < wanted-1e-6 {
			t.Fatalf("%v N, wanted at least %v", got, wanted)
		}
		if m := again.lists["margin"][0]; m < 1-1e-9 {
			t.Fatalf("margin %v", m)
		}
		for mask := range 1 << len(box) {
			sum := 0.0
			for i, s := range box {
				if mask>>i&1 == 1 {
					sum += s
				}
			}
			if load := out.nums["seat"] + out.nums["total_rate"]*sum; load >= wanted && sum < a.Amount-1e-9 {
				t.Fatalf("%v mm gives %v N and is thinner than %v mm for %v N", sum, load, a.Amount, wanted)
			}
		}
	})
	if s := strings.Join(valveSpring().Cautions, " "); !strings.Contains(s, "face shield") {
		t.Error("springs come with a caution")
	}
}
