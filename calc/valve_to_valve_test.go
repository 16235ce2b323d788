package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func valves(samples []float64) topIn {
	inlet := lobe{lift: 9.4, centre: 106, before: 150, after: 150}
	exhaust := lobe{lift: 9.0, centre: -108, before: 152, after: 152}
	return topIn{}.num("centres", 36).num("inlet_angle", 35).num("exhaust_angle", 37).num("inlet_head", 41).num("exhaust_head", 36).num("rim", 1.2).
		list("crank_angle", samples...).list("inlet_lift", inlet.sample(samples)...).list("exhaust_lift", exhaust.sample(samples)...)
}

func TestValveToValve(t *testing.T) {
	const source = "computed independently, no published example"
	g := valves(turn(-360, 360, 1))
	f := g.compute(t, valveToValve())
	f.want("closed_clearance", 4.9198, 5e-5, source)
	f.want("min_clearance", 3.3038, 1e-4, source)
	f.want("at_crank", 20.30, 0.02, source)
	f.want("inlet_lift_at", 2.873, 2e-3, source)
	f.want("exhaust_lift_at", 0.214, 2e-3, source)
	f.quiet()
	v, err := twoValvesOf(Args{valveToValve().Inputs, g})
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[float64]float64{-20: 4.1879, 0: 3.5955, 10: 3.3890, 40: 3.4317} {
		near(t, "distance", v.apart(v.inlet.at(at), v.exhaust.at(at)), want, 1e-4)
	}
	// One camshaft for both: only the place changes.
	f = g.num("inlet_advance", 4).num("exhaust_advance", 4).compute(t, valveToValve())
	f.want("min_after", 3.3038, 1e-4, source)
	f.want("at_crank_after", 16.30, 0.02, source)
	f.want("min_clearance", 3.3038, 1e-4, source)
	f = g.num("inlet_advance", 4).num("exhaust_advance", -4).num("required", 3.2).compute(t, valveToValve())
	f.want("min_after", 3.0753, 1e-4, source)
	f.want("at_crank_after", 13.26, 0.02, source)
	if a := f.adjustment(); a.Direction != "part" || math.Abs(a.Amount-(3.2-3.0753)) > 1e-4 {
		t.Errorf("%+v", a)
	}
	if a := g.num("required", 3).compute(t, valveToValve()).adjustment(); a.Direction != "none" {
		t.Errorf("%+v", a)
	}
	// The sensitivity to the centres is the cosine of the line between the nearest points: 0.92.
	wide := g.num("centres", 36.001).compute(t, valveToValve()).num("min_clearance")
	near(t, "change with the centres", (wide-g.compute(t, valveToValve()).num("min_clearance"))/0.001, 0.92, 0.005)
}

// Where the nearest points are the inner edges of the faces, their distance is Pythagoras'.
func TestValveToValveEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, name) }
		bi, be := radians(draw("bi", 15, 40)), radians(draw("be", 15, 40))
		li, le := draw("li", 0, 3), draw("le", 0, 3)
		s, h, di, de := draw("s", 42, 50), draw("h", -2, 2), draw("di", 30, 38), draw("de", 28, 36)
		v := twoValves{centres: s, height: h, radI: di / 2, radE: de / 2, sinI: math.Sin(bi), cosI: math.Cos(bi), sinE: math.Sin(be), cosE: math.Cos(be)}
		dx := s - li*math.Sin(bi) - le*math.Sin(be) - di/2*math.Cos(bi) - de/2*math.Cos(be)
		dz := -li*math.Cos(bi) + di/2*math.Sin(bi) - h + le*math.Cos(be) - de/2*math.Sin(be)
		if math.Abs(dz) > dx*math.Tan(radians(45)) {
			t.Skip("the nearest points are not both edges")
		}
		want := math.Hypot(dx, dz)
		if got := v.apart(li, le); got > want+1e-12 {
			t.Fatalf("%g, but the edges are %g apart", got, want)
		}
	})
	square := outline{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	for _, c := range []struct {
		name string
		b    outline
		want float64
	}{
		{"beside", outline{{3, 0}, {4, 0}, {4, 1}, {3, 1}}, 2},
		{"corner to corner", outline{{4, 5}, {6, 5}, {6, 7}}, 5},
		{"inside", outline{{0.4, 0.4}, {0.6, 0.4}, {0.5, 0.6}}, 0},
		{"around", outline{{-5, -5}, {9, -5}, {2, 9}}, 0},
		{"across", outline{{-1, 0.5}, {2, 0.5}}, 0},
		{"corner to edge", outline{{2, 0.5}, {3, 0}, {3, 1}}, 1},
	} {
		near(t, c.name, square.apart(c.b), c.want, 1e-12)
		near(t, c.name+" turned about", c.b.apart(square), c.want, 1e-12)
	}
}

func TestValveToValveRefuses(t *testing.T) {
	m := valveToValve()
	g := valves(turn(-360, 360, 5))
	g.num("skew", 3).refused(t, m, "skew", "3°")
	g.num("centres", 25).refused(t, m, "centres", "meet")
	g.num("inlet_angle", 75).refused(t, m, "inlet_angle", "75")
	valves(turn(0, 150, 5)).refused(t, m, "crank_angle")
	g.list("inlet_lift", 1, 2, 3).refused(t, m, "inlet_lift")
	g.num("inlet_advance", 90).refused(t, m, "inlet_advance", "90")
	g.num("height_difference", 90).refused(t, m, "height_difference")
	g.without("rim").compute(t, m).warns("give rim")
	g.num("centres", 33).compute(t, m).warns("common practice")
	g.num("centres", 31.6).compute(t, m).warns("meet at")
	valves(turn(-45, 50, 5)).num("inlet_advance", -35).num("exhaust_advance", -35).compute(t, m).warns("end of what was sampled")
	neverPanics(t, m, g)
}
