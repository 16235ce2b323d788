package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func fourLobes() topIn {
	lobe := func(name, kind string, now, wanted, u float64) topIn {
		g := topIn{}.text("name", name).text("kind", kind).num("centre_wanted", wanted)
		g["centre_now"] = num(now, Component{U: u})
		return g
	}
	return topIn{}.recs("lobes", lobe("inlet 1", "inlet", 107.6, 104, 0.3), lobe("inlet 2", "inlet", 106.9, 104, 0.3),
		lobe("exhaust 1", "exhaust", 110.2, 112.5, 0.6), lobe("exhaust 2", "exhaust", 110.9, 112.5, 0.6))
}

// Four lobes on one camshaft get one answer. Computed independently, no published example.
func TestCamCorrectionOfSeveralLobes(t *testing.T) {
	const source = "computed independently, no published example"
	g := fourLobes().num("teeth", 40).recs("keyways", keyway("0", 0), keyway("+", 1.5), keyway("-", -1.5))
	f := g.compute(t, camCorrection())
	f.want("correction_crank", 2.99, 0.005, source)
	f.want("span", 2.0, 1e-9, source)
	f.wantList("residuals", []float64{0.6, -0.1, -0.7, -1.4}, 1e-9, source)
	if f.text("keyway") != "+" {
		t.Errorf("keyway %q", f.text("keyway"))
	}
	f.unset("centre_then")
	crank, _ := mustRun(t, Request{Method: "cam-correction", Inputs: g}).Figure("correction_crank")
	near(t, "U of the mean", crank.U, 0.37, 0.005)
	f = g.text("rule", ruleWorst).compute(t, camCorrection())
	f.want("correction_crank", 2.60, 1e-9, source)
	// Made by a key, it leaves ±1.0.
	key := fourLobes().text("rule", ruleWorst).num("shaft_diameter", 20).text("shaft", "camshaft").compute(t, keyOffset())
	key.want("correction", 2.60, 1e-9, source)
	key.wantList("residuals", []float64{1.0, 0.3, -0.3, -1.0}, 1e-9, source)
	key.want("step", 10*math.Sin(radians(1.3)), 1e-12, "plane geometry")
	// No more than the valves allow.
	f = g.num("most_advance", 2).compute(t, camCorrection())
	f.want("change_cam", 0, 1e-9, "+1.5 would be 3° of crank")
	key = fourLobes().num("shaft_diameter", 20).text("shaft", "crankshaft").num("most_advance", 2).compute(t, keyOffset())
	key.want("correction", 2, 1e-12, "as allowed")
	key.warns("only 2.0° are allowed")
	g.num("most_advance", -1).num("most_retard", 4).compute(t, camCorrection()).want("change_cam", -1.5, 1e-12, "−3° of crank is all that is allowed")
	g.num("most_advance", -1).num("most_retard", 1).refused(t, camCorrection(), "most_advance", "-1.0°")
	g.num("most_advance", -1).num("most_retard", 0.5).refused(t, camCorrection(), "most_advance")
	wide := fourLobes()
	wide["lobes"].Recs[0]["centre_now"] = num(109)
	wide.num("teeth", 40).compute(t, camCorrection()).warns("separation")
	// One lobe beside several, none, one name twice.
	g.num("centre_now", 107).refused(t, camCorrection(), "centre_now", "beside lobes")
	if _, err := (topIn{}.num("teeth", 40)).try(camCorrection()); err == nil {
		t.Error("nothing to correct was answered")
	}
	if _, err := (topIn{}.num("shaft_diameter", 20).text("shaft", "camshaft")).try(keyOffset()); err == nil {
		t.Error("a key for nothing was answered")
	}
	twice := fourLobes()
	twice["lobes"].Recs[1]["name"] = Val{Text: "inlet 1"}
	twice.num("teeth", 40).refused(t, camCorrection(), "lobes[1].name")
}

// Moved by what is said, the mean want of the lobes is what the residual said, and a centre in another turn of the cycle is
// the same.
func TestCamCorrectionReachesLobes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var recs []topIn
		want := 0.0
		n := rapid.IntRange(1, 4).Draw(t, "lobes")
		for i := range n {
			now, wanted := rapid.Float64Range(95, 120).Draw(t, "now"), rapid.Float64Range(95, 120).Draw(t, "wanted")
			kind, sign := "inlet", 1.0
			if i%2 == 1 {
				kind, sign = "exhaust", -1
			}
			turns := float64(rapid.IntRange(-1, 1).Draw(t, "turns"))
			recs = append(recs, topIn{}.text("name", string(rune('a'+i))).text("kind", kind).num("centre_now", now+720*turns).num("centre_wanted", wanted))
			want += sign * (now - wanted) / float64(n)
		}
		out, err := topIn{}.recs("lobes", recs...).num("teeth", 40).try(camCorrection())
		if err != nil {
			t.Fatal(err)
		}
		left := 0.0
		for _, r := range out.lists["residuals"] {
			left += r / float64(n)
		}
		if math.Abs(out.nums["correction_crank"]-want) > 1e-9 || math.Abs(left-(want-2*out.adjustments[0].Amount)) > 1e-9 {
			t.Fatalf("correction %g, want %g; left %g", out.nums["correction_crank"], want, left)
		}
	})
}

func eachCylinder(u float64) topIn {
	g := func(name string, piston, pin, rings, clips, small, big float64) topIn {
		out := topIn{}.text("name", name)
		for k, x := range map[string]float64{"piston": piston, "pin": pin, "rings": rings, "clips": clips, "small_end": small, "big_end": big} {
			out[k] = num(x, Component{U: u})
		}
		return out
	}
	return topIn{}.num("factor_wanted", 0.66).recs("each", g("left", 301.2, 66.4, 19.1, 3.0, 148.3, 331.5), g("right", 299.4, 66.9, 19.3, 3.0, 147.1, 334.2))
}

// Two cylinders on one crank, weighed one by one. Computed independently, no published example.
func TestBalanceOfEachCylinder(t *testing.T) {
	const source = "computed independently, no published example"
	g := eachCylinder(0.1)
	f := g.compute(t, balance())
	f.wantList("reciprocating_each", []float64{538.0, 535.7}, 1e-9, source)
	f.want("difference", 2.3, 1e-9, "538.0 − 535.7")
	f.wantList("rotating_each", []float64{331.5, 334.2}, 1e-9, source)
	f.wantList("bob_weights", []float64{686.580, 687.762}, 1e-9, source)
	f.want("bob_weight", 1374.342, 1e-9, source)
	f.want("reciprocating", 1073.7, 1e-9, source)
	f.wantList("lighten", []float64{2.3, 0}, 1e-9, source)
	f.wantList("lighten_rotating", []float64{0, 2.7}, 1e-9, source)
	f.warns("differ by 2.7 g")
	bob, _ := mustRun(t, Request{Method: "balance", Inputs: g}).Figure("bob_weight")
	near(t, "U", bob.U, 0.49, 0.005)
	// The hung weight takes both small ends.
	g.num("hung", 400).compute(t, balance()).want("factor_now", (400+148.3+147.1)/1073.7, 1e-12, "statics")
	// Lightened by what is said the two are alike.
	again := eachCylinder(0)
	for _, a := range f.out.adjustments {
		i, part := 0, "piston"
		if a.What[len(a.What)-5:] == "right" {
			i = 1
		}
		if a.What[:3] == "big" {
			part = "big_end"
		}
		r := again["each"].Recs[i]
		r[part] = num(r[part].Num.X - a.Amount)
	}
	after := again.compute(t, balance())
	after.wantList("lighten", []float64{0, 0}, 1e-9, "lightened as said")
	after.wantList("lighten_rotating", []float64{0, 0}, 1e-9, "lightened as said")
	after.quiet()
	g.num("piston", 300).refused(t, balance(), "piston", "beside each")
	g.num("cylinders", 3).refused(t, balance(), "each", "2 cylinders")
	g.num("hung", -1).refused(t, balance(), "hung")
	bad := eachCylinder(0)
	bad["each"].Recs[1]["pin"] = num(-2)
	bad.refused(t, balance(), "each[1].pin", "-2")
	if _, err := (topIn{}.num("piston", 300)).try(balance()); err == nil {
		t.Error("a piston alone was answered")
	}
}

func twoChambers() topIn {
	c := func(name string, chamber, deck, dome float64) topIn {
		return topIn{}.text("name", name).num("chamber", chamber).num("deck", deck).num("dome", dome)
	}
	return topIn{}.num("bore", 70.5).num("stroke", 82).num("gasket_thickness", 1.1).num("gasket_bore", 72).num("ratio_wanted", 10.3).
		recs("chambers", c("left", 31.8, 0.45, 5.9), c("right", 32.5, 0.38, 5.7))
}

// Two cylinders over one base plate. Computed independently, no published example.
func TestCompressionOfTwoChambers(t *testing.T) {
	const source = "computed independently, no published example"
	g := twoChambers()
	f := g.compute(t, compression())
	f.wantList("clearance_volumes", []float64{32.1353, 32.7620}, 5e-5, source)
	f.wantList("ratios", []float64{10.961, 10.770}, 5e-4, source)
	f.want("difference", 10.961-10.770, 1e-3, "the first less the second")
	f.wantList("squishes", []float64{1.55, 1.48}, 1e-9, source)
	f.want("plate_wanted", 0.5055, 5e-5, source)
	f.want("plate_thickness", 0.5055, 5e-5, source)
	f.want("equalise", 0.627, 5e-4, source)
	if mean := (f.out.lists["ratios_then"][0] + f.out.lists["ratios_then"][1]) / 2; math.Abs(mean-10.3) > 1e-9 {
		t.Errorf("mean ratio %g, want 10.3", mean)
	}
	f.unset("ratio", "squish", "clearance_volume", "ratio_then")
	f = g.list("plates", 0.2, 0.25, 0.3, 0.5, 0.6).compute(t, compression())
	f.wantList("plates", []float64{0.5}, 0, source)
	f.wantList("ratios_then", []float64{10.391, 10.221}, 5e-4, source)
	f.wantList("squishes_then", []float64{2.05, 1.98}, 1e-9, source)
	f.warns("0.17 apart")
	// Each alone.
	for i, want := range []float64{0.585, 0.424} {
		r := g["chambers"].Recs[i]
		one := g.without("chambers")
		for _, name := range []string{"chamber", "deck", "dome"} {
			one[name] = r[name]
		}
		one.compute(t, compression()).want("plate_wanted", want, 5e-4, source)
	}
	// Cut from the smaller chamber by what is said, both have the same ratio, 10.221 over the plate.
	alike := twoChambers().list("plates", 0.2, 0.25, 0.3, 0.5, 0.6)
	alike["chambers"].Recs[0]["chamber"] = num(31.8 + f.num("equalise"))
	after := alike.compute(t, compression())
	after.want("equalise", 0, 1e-9, "cut as said")
	// Both are then best over 0.424 mm, which 0.2 + 0.2 … are not in stock for: 0.45 = 0.25 + 0.2.
	after.wantList("plates", []float64{0.25, 0.2}, 0, "by hand")
	// The squish of the lesser governs.
	f = g.num("squish_min", 2.2).list("plates", 0.2, 0.25, 0.3, 0.5, 0.6).compute(t, compression())
	f.warns("squish of right")
	if got := f.out.lists["squishes_then"][1]; got < 2.2-1e-9 {
		t.Errorf("squish %g under the limit", got)
	}
	g.num("squish_min", 9).list("plates", 0.2, 0.5).refused(t, compression(), "plates")
	g.num("deck", 0.4).refused(t, compression(), "deck", "beside chambers")
	if _, err := (topIn{}.num("bore", 70).num("stroke", 80)).try(compression()); err == nil {
		t.Error("no chamber was answered")
	}
}

// The stack taken has the least of the largest error of a ratio of every stack that keeps the squish.
func TestCompressionPlateForSeveralAgainstAllStacks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var recs []topIn
		for range rapid.IntRange(2, 3).Draw(t, "chambers") {
			recs = append(recs, topIn{}.num("chamber", rapid.Float64Range(30, 34).Draw(t, "chamber")).num("deck", rapid.Float64Range(0.2, 0.6).Draw(t, "deck")))
		}
		// Plates to 0.1 µm, as fine as the search takes pieces without a common measure.
		var plates []float64
		for _, tenths := range rapid.SliceOfN(rapid.IntRange(500, 8000), 1, 6).Draw(t, "plates, 0.1 µm") {
			plates = append(plates, float64(tenths)/1e4)
		}
		wanted := rapid.Float64Range(8, 10).Draw(t, "wanted")
		g := topIn{}.num("bore", 70.5).num("stroke", 82).num("ratio_wanted", wanted).num("squish_min", 0.5).list("plates", plates...).recs("chambers", recs...)
		cs, err := readChambers(Args{compression().Inputs, g})
		if err != nil {
			t.Fatal(err)
		}
		out, err := g.try(compression())
		if err != nil || out.nums["plate_wanted"] <= 0 {
			t.Skip("no stack")
		}
		best := math.Inf(1)
		for mask := range 1 << len(plates) {
			sum := 0.0
			for i, p := range plates {
				if mask>>i&1 == 1 {
					sum += p
				}
			}
			if then := cs.with(sum); then.leastSquish().squish >= 0.5 {
				best = math.Min(best, then.worst(wanted))
			}
		}
		if got := cs.with(out.nums["plate_thickness"]).worst(wanted); got > best+1e-6 {
			t.Fatalf("largest error %g, some stack has %g", got, best)
		}
	})
}
