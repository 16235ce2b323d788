package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

// An engine twice as large has the same angles and lengths twice as long: no method of pure geometry has a length of
// its own in it. Inches taken for millimetres throughout are such a scale of 25.4.
func TestGeometryScales(t *testing.T) {
	samples := turn(0, 720, 4)
	cases := []struct {
		m Method
		g topIn
	}{
		{ringGap(), topIn{}.num("gap", 0.2).num("bore_at_gap", 72.06).num("narrowest_bore", 72.04).num("factor", 0.004)},
		{boreMap(), threeDepths().num("piston_diameter", 71.98).num("clearance", 0.09)},
		{circleFit(), topIn{}.grid("points", []float64{1, 7}, []float64{2, 6}, []float64{5, 8}, []float64{7, 7}, []float64{9, 5}, []float64{3, 7})},
		{pistonPosition(), crank80().num("pin_offset", 1).num("angle", 30).num("drop", 8)},
		{tdcStop(), crank80().num("pin_offset", 1).num("forward", -33).num("back", 34).num("stop_drop", 8)},
		{tdcFit(), tdcReadings()},
		{camTiming(), bothLobes(samples).list("heights", 2, 6)},
		{keyOffset(), topIn{}.num("shaft_diameter", 22).num("correction_crank", -5).text("shaft", "camshaft")},
		{valveToPiston(), overValve(inletLobe, 20, samples).num("push", 2.6).num("at", 8).num("advance", 3).num("required", 2)},
		{valveLash(), topIn{}.num("lash", 0.15).num("target", 0.1).num("pitch", 1).text("adjuster", "pushrod").num("ratio", 1.1)},
	}
	for _, c := range cases {
		base := c.g.compute(t, c.m)
		rapid.Check(t, func(t *rapid.T) {
			s := rapid.Float64Range(1/25.4, 25.4).Draw(t, "scale")
			out, err := scaled(c.m, c.g, s).try(c.m)
			if err != nil {
				t.Fatalf("%s: %v", c.m.Name, err)
			}
			for _, f := range c.m.Figures {
				want, got := base.out.values(f.Name), out.values(f.Name)
				if len(want) != len(got) {
					t.Fatalf("%s: %s has %d values, %d before", c.m.Name, f.Name, len(got), len(want))
				}
				k := 1.0
				if f.Kind == quantity.Length || f.Kind == quantity.Slope {
					k = s
				}
				for i := range want {
					if math.Abs(got[i]-k*want[i]) > 1e-6*k*math.Max(1, math.Abs(want[i])) {
						t.Fatalf("%s: %s at %g times the size is %v, was %v", c.m.Name, f.Name, s, got[i], want[i])
					}
				}
			}
		})
	}
}

func scaled(m Method, g topIn, s float64) topIn {
	g = cloneVals(g)
	for _, in := range m.Inputs {
		v := g[in.Name]
		if in.Kind != quantity.Length && in.Kind != quantity.Pitch {
			continue
		}
		if v.Num != nil {
			v.Num.X *= s
		}
		for i := range v.List {
			v.List[i].X *= s
		}
		for _, row := range v.Grid {
			for i := range row {
				row[i].X *= s
			}
		}
	}
	return g
}
