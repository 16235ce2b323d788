package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func overValve(l lobe, angle float64, samples []float64) topIn {
	return crank80().num("valve_angle", angle).list("crank_angle", samples...).list("lift", l.sample(samples)...)
}

func TestValveToPiston(t *testing.T) {
	const source = "computed independently"
	inlet := overValve(inletLobe, 20, turn(-180, 540, 0.5)).num("push", 2.60).num("at", 8)
	f := inlet.compute(t, valveToPiston())
	f.want("static_clearance", 3.8173, 1e-4, source)
	f.want("min_clearance", 2.5385, 1e-4, source)
	f.want("at_crank", 4.88, 0.01, source)
	f.want("sensitivity", -0.06978, 2e-5, source)
	f.want("min_after", 2.5385, 1e-4, "no advance asked for")
	f.unset("max_advance", "max_retard")
	// The head moves along its axis, so across by the sine of what it has lifted.
	f.want("sideways", inletLobe.at(4.88)*math.Sin(radians(20)), 1e-3, "the lobe it was made from")
	advanced := inlet.num("advance", 4).compute(t, valveToPiston())
	advanced.want("min_after", 2.2460, 1e-4, source)
	advanced.want("at_crank_after", 5.35, 0.01, source)
	advanced.want("min_clearance", 2.5385, 1e-4, source)
	// The curve over the overlap.
	curve, ok := ClearanceCurve(Request{Method: "valve-to-piston", Inputs: inlet})
	if !ok || len(curve) != 2*overlapHalf+1 {
		t.Fatalf("a curve of %d points", len(curve))
	}
	for i, want := range []float64{3.9347, 3.1566, 2.6898, 2.5385, 2.7043, 3.1849, 3.9751} {
		if p := curve[overlapHalf-10+5*i]; p.X != float64(5*i-10) || math.Abs(p.Y-want) > 1e-4 {
			t.Errorf("clearance at %v° is %.4f, want %.4f at %d° (%s)", p.X, p.Y, want, 5*i-10, source)
		}
	}
	exhaust := overValve(exhaustLobe, 22, turn(-180, 540, 0.5)).num("static_clearance", 3.90).text("valve", "exhaust")
	f = exhaust.compute(t, valveToPiston())
	f.want("min_clearance", 2.5168, 1e-4, source)
	f.want("at_crank", -4.74, 0.01, source)
	f.want("sensitivity", 0.06679, 2e-5, source)
	f.quiet()
	// 5° samples with the same lobe are good to a few hundredths of a millimetre.
	overValve(inletLobe, 20, turn(-180, 540, 5)).num("static_clearance", 3.8173).compute(t, valveToPiston()).want("min_clearance", 2.5385, 0.01, source)
	// The workshop formula for a valve along the bore, travel to contact at the top less lobe lift times ratio: 0.220 −
	// 0.080·1.5 = 0.100 in (common practice): the clearance there of a valve held at that lift.
	flat := topIn{}.num("stroke", 80).num("rod", 160).num("valve_angle", 0).list("crank_angle", turn(-90, 95, 5)...)
	held := make([]float64, 37)
	for i := range held {
		held[i] = inch * 0.080 * 1.5
	}
	flat.list("lift", held...).num("static_clearance", inch*0.220).compute(t, valveToPiston()).want("min_clearance", inch*0.100, 1e-9, "common practice")
}

func TestValveToPistonRequired(t *testing.T) {
	inlet := overValve(inletLobe, 20, turn(-180, 540, 1)).num("static_clearance", 3.8173)
	f := inlet.num("required", 2.032).text("valve", "inlet").compute(t, valveToPiston())
	f.unset("max_retard")
	limit := f.num("max_advance")
	// Advanced to the limit the clearance is just what is required.
	inlet.num("advance", limit).compute(t, valveToPiston()).want("min_after", 2.032, 1e-6, "the root")
	if a := f.adjustment(); a.Direction != "none" {
		t.Errorf("enough clearance: %+v", a)
	}
	// Too little: it must be retarded, or the pocket deepened; both reach the target.
	f = inlet.num("required", 2.8).compute(t, valveToPiston())
	inlet.num("advance", f.num("max_advance")).compute(t, valveToPiston()).want("min_after", 2.8, 1e-6, "retarded as said")
	a := f.adjustment()
	if f.num("max_advance") >= 0 || a.Direction != "deepen" {
		t.Errorf("max_advance %v, %+v", f.num("max_advance"), a)
	}
	inlet.num("static_clearance", 3.8173+a.Amount).compute(t, valveToPiston()).want("min_clearance", 2.8, 1e-9, "deepened as said")

	exhaust := overValve(exhaustLobe, 22, turn(-180, 540, 1)).num("static_clearance", 3.90)
	f = exhaust.num("required", 2.3).compute(t, valveToPiston())
	f.unset("max_advance")
	exhaust.num("advance", -f.num("max_retard")).compute(t, valveToPiston()).want("min_after", 2.3, 1e-6, "the root")
	exhaust.num("static_clearance", 1).compute(t, valveToPiston()).warns("touch")
}

func TestValveToPistonRefuses(t *testing.T) {
	g := overValve(inletLobe, 20, turn(0, 720, 5))
	m := valveToPiston()
	g.refused(t, m, "push")
	g.num("push", 2.6).refused(t, m, "push")
	g.num("push", 2.6).num("at", 8).num("static_clearance", 3).refused(t, m, "static_clearance")
	g.num("push", -0.1).num("at", 8).refused(t, m, "push", "-0.1")
	g.num("push", 1).num("at", 90).refused(t, m, "at", "90")
	ok := g.num("static_clearance", 3.8)
	ok.num("valve_angle", 70).refused(t, m, "valve_angle", "70")
	ok.num("rod", 30).refused(t, m, "rod")
	ok.list("lift", 1).refused(t, m, "lift")
	ok.num("advance", 80).refused(t, m, "advance", "80")
	overValve(inletLobe, 20, turn(-30, 60, 5)).num("static_clearance", 3.8).refused(t, m, "crank_angle", "30.0")
	overValve(inletLobe, 20, append(turn(-60, -10, 5), turn(10, 60, 5)...)).num("static_clearance", 3.8).refused(t, m, "crank_angle")
	ok.text("valve", "exhaust").compute(t, m).warns("other valve")
	neverPanics(t, m, ok.num("advance", 4).num("required", 2).text("valve", "inlet"))
}

// The least clearance is that of a fine search; its sensitivity is the difference that a small advance makes; pistons
// and valves of a mirrored engine touch at the mirrored angle.
func TestValveToPistonMinimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lobe{rapid.Float64Range(6, 11).Draw(t, "lift"), rapid.Float64Range(95, 118).Draw(t, "centre"), rapid.Float64Range(135, 160).Draw(t, "flank"), 150}
		beta, offset := rapid.Float64Range(0, 40).Draw(t, "beta"), rapid.Float64Range(-2, 2).Draw(t, "offset")
		samples := turn(-180, 180, 1)
		lift := l.sample(samples)
		at := func(g topIn, advance float64) *Out {
			out, err := g.num("advance", advance).try(valveToPiston())
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
		g := crank80().num("pin_offset", offset).num("valve_angle", beta).num("static_clearance", 4).list("crank_angle", samples...).list("lift", lift...)
		out := at(g, 0)
		c, _ := crankOf(Args{crankInputs(false), g})
		curve, _ := newLiftCurve(samples, lift)
		p := &pocket{crank: c, lift: curve.between(-100, 100), cos: math.Cos(radians(beta)), static: 4}
		for theta := -40.0; theta <= 40; theta += 0.05 {
			if x := p.clearance(theta, 0); x < out.nums["min_clearance"]-1e-6 {
				t.Fatalf("%v at %v is less than %v at %v", x, theta, out.nums["min_clearance"], out.nums["at_crank"])
			}
		}
		const step = 0.02
		numeric := (at(g, step).nums["min_after"] - at(g, -step).nums["min_after"]) / (2 * step)
		if math.Abs(numeric-out.nums["sensitivity"]) > 1e-3 {
			t.Fatalf("sensitivity %v, numerically %v", out.nums["sensitivity"], numeric)
		}
		var mirrored []float64
		for _, a := range samples {
			mirrored = append(mirrored, -a)
		}
		m := at(g.num("pin_offset", -offset).list("crank_angle", mirrored...), 0)
		if math.Abs(m.nums["at_crank"]+out.nums["at_crank"]) > 1e-6 || math.Abs(m.nums["min_clearance"]-out.nums["min_clearance"]) > 1e-9 {
			t.Fatalf("mirrored %v at %v, want %v at %v", m.nums["min_clearance"], m.nums["at_crank"], out.nums["min_clearance"], -out.nums["at_crank"])
		}
	})
}

func BenchmarkValveToPiston(b *testing.B) {
	overValve(inletLobe, 20, turn(0, 720, 0.5)).num("push", 2.60).num("at", 8).num("advance", 4).num("required", 2.032).bench(b, valveToPiston())
}
