package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRingGap(t *testing.T) {
	// Targets as commonly published for these factors (common practice): 0.018, 0.020 and 0.012 in.
	for _, c := range []struct{ bore, factor, published, exact float64 }{
		{4.030, 0.0045, 0.018, 0.018135}, {4.030, 0.0050, 0.020, 0.02015}, {3, 0.004, 0.012, 0.012},
	} {
		f := topIn{}.num("gap", inch*0.010).num("bore_at_gap", inch*c.bore).num("narrowest_bore", inch*c.bore).num("factor", c.factor).compute(t, ringGap())
		f.want("target_gap", inch*c.published, inch*0.0005, "common practice")
		f.want("target_gap", inch*c.exact, 1e-9, "computed independently")
		f.want("file_off", inch*(c.exact-0.010), 1e-9, "computed independently")
		if a := f.adjustment(); a.Direction != "file" || math.Abs(a.Amount-f.num("file_off")) > 1e-12 {
			t.Errorf("adjustment %+v", a)
		}
	}
	base := topIn{}.num("gap", 0.32).num("bore_at_gap", 72.062).num("narrowest_bore", 72.039).num("target_gap", 0.29)
	base.compute(t, ringGap()).want("gap_at_narrowest", 0.2477, 5e-5, "computed independently")
	// A bore two thou wider opens the gap by 0.00628 in (computed independently).
	wider := topIn{}.num("gap", inch*0.020).num("bore_at_gap", inch*2.802).num("narrowest_bore", inch*2.800).num("target_gap", inch*0.020).compute(t, ringGap())
	wider.want("gap_at_narrowest", inch*(0.020-0.00628), inch*(5e-6), "computed independently")
	hot := topIn{}.num("gap", 0.30).num("bore_at_gap", 72).num("narrowest_bore", 72).num("target_gap", 0.30).
		num("alpha_bore", 22e-6).num("bore_rise", 110).num("alpha_ring", 11e-6).num("ring_rise", 160)
	f := hot.compute(t, ringGap())
	f.want("hot_gap", 0.4493, 5e-5, "computed independently")
	if a := f.adjustment(); a.Direction != "none" {
		t.Errorf("a ring at its target is to be left: %+v", a)
	}
	// The hot gap is of the ring as filed, not as read.
	hot.num("gap", 0.10).compute(t, ringGap()).want("hot_gap", 0.4493, 5e-5, "computed independently")
}

func TestRingGapRefuses(t *testing.T) {
	base := topIn{}.num("gap", 0.30).num("bore_at_gap", 72).num("narrowest_bore", 72).num("target_gap", 0.30)
	base.num("gap", 0.46).refused(t, ringGap(), "gap", "1.5 times", "0.46")
	base.num("gap", 0.44).compute(t, ringGap()).want("file_off", -0.14, 1e-12, "arithmetic")
	base.num("factor", 0.004).refused(t, ringGap(), "target_gap")
	base.without("target_gap").refused(t, ringGap(), "target_gap")
	base.without("target_gap").num("factor", 4.5).refused(t, ringGap(), "factor", "0.004")
	base.num("narrowest_bore", 72.01).refused(t, ringGap(), "narrowest_bore", "72.01")
	hot := base.num("alpha_bore", 11e-6).num("bore_rise", 20).num("alpha_ring", 11e-6)
	hot.refused(t, ringGap(), "ring_rise")
	hot.num("ring_rise", 300).refused(t, ringGap(), "hot_gap", "butt")
	neverPanics(t, ringGap(), hot.num("ring_rise", 160))
}

// Filing by the amount said leaves the target: the ring is a circle of a fixed length of metal with a gap in it.
func TestRingGapReachesTarget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		narrow := rapid.Float64Range(50, 110).Draw(t, "narrow")
		at := narrow + rapid.Float64Range(0, 0.05).Draw(t, "wear")
		target := rapid.Float64Range(0.2, 0.6).Draw(t, "target")
		metal := math.Pi*narrow - target*rapid.Float64Range(0.01, 1).Draw(t, "gap")
		g := topIn{}.num("gap", math.Pi*at-metal).num("bore_at_gap", at).num("narrowest_bore", narrow).num("target_gap", target)
		out, err := g.try(ringGap())
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Pi*narrow - (metal - out.nums["file_off"]); math.Abs(got-target) > 1e-9 {
			t.Fatalf("filed by %.4f the gap is %.4f, want %.4f", out.nums["file_off"], got, target)
		}
	})
}
