package calc

import (
	"math"
	"testing"
)

// Computed independently by plane geometry. The first rows are a 1/4 in screw, 1/4 in seat drill 1/8 in deep at its
// tip, in inches; the last are M6 screws in the same seat, in mm.
func TestConeSeat(t *testing.T) {
	in := func(m map[string]float64) map[string]Val {
		vals := map[string]Val{"seat_drill": num(0.25 * inch), "seat_depth": num(0.125 * inch)}
		for k, v := range m {
			vals[k] = num(v)
		}
		return vals
	}
	quarter := func(m map[string]float64) map[string]Val {
		vals := in(m)
		vals["screw_diameter"] = num(0.25 * inch)
		return vals
	}
	m6 := func(m map[string]float64) map[string]Val {
		vals := in(m)
		vals["thread"] = Val{Text: "M6"}
		return vals
	}
	for _, tc := range []struct {
		name    string
		in      map[string]Val
		unit    float64
		want    map[string]float64
		on      string
		bottoms bool
	}{
		{"pilot 1/8", quarter(map[string]float64{"pilot_drill": 0.125 * inch, "pilot_depth": 0.1875 * inch}), inch,
			map[string]float64{"apex_depth": 0.149946, "tip_to_pilot_bottom": 0.037554, "contact_diameter": 0.125, "thread_entry": 0.024946, "min_pilot_depth": 0.149946, "stand_off": 0, "flank_gap": 0}, "pilot rim", false},
		{"pilot 1/16", quarter(map[string]float64{"pilot_drill": 0.0625 * inch, "pilot_depth": 0.1875 * inch}), inch,
			map[string]float64{"apex_depth": 0.137473, "tip_to_pilot_bottom": 0.050027}, "pilot rim", false},
		{"no pilot", quarter(nil), inch, map[string]float64{"apex_depth": 0.125}, "tip", true},
		{"short pilot", quarter(map[string]float64{"pilot_drill": 0.125 * inch, "pilot_depth": 0.140 * inch}), inch,
			map[string]float64{"apex_depth": 0.140, "stand_off": 0.009946, "flank_gap": 0.009946 * math.Sqrt2 / 2, "min_pilot_depth": 0.149946}, "pilot bottom", true},
		{"short screw", quarter(map[string]float64{"pilot_drill": 0.125 * inch, "pilot_depth": 0.1875 * inch, "cone_angle": 118}), inch,
			map[string]float64{"apex_depth": 0.125}, "flank", false},
		{"5/16 screw, no pilot", func() map[string]Val {
			v := in(nil)
			v["screw_diameter"] = num(0.3125 * inch)
			return v
		}(), inch, map[string]float64{"apex_depth": 0.125}, "tip", true},
		{"5/16 screw", func() map[string]Val {
			v := in(map[string]float64{"pilot_drill": 0.125 * inch, "pilot_depth": 0.1875 * inch})
			v["screw_diameter"] = num(0.3125 * inch)
			return v
		}(), inch, map[string]float64{"apex_depth": 0.125, "contact_diameter": 0.25}, "mouth of the hole", false},
		{"shallow seat, no seat beside the pilot", quarter(map[string]float64{"seat_depth": 0.020 * inch, "pilot_drill": 0.125 * inch, "pilot_depth": 0.1875 * inch}), inch,
			map[string]float64{"apex_depth": 0.06250, "contact_diameter": 0.125, "seat_diameter": 0.066571}, "mouth of the pilot", false},
		{"shallow seat", quarter(map[string]float64{"seat_depth": 0.050 * inch, "pilot_drill": 0.125 * inch, "pilot_depth": 0.1875 * inch}), inch,
			map[string]float64{"apex_depth": 0.074946, "contact_diameter": 0.125, "seat_diameter": 0.166428}, "pilot rim", false},
		{"M6 120°", m6(map[string]float64{"pilot_drill": 0.0625 * inch, "pilot_depth": 0.1875 * inch, "cone_angle": 120, "cone_base": 5}), 1,
			map[string]float64{"apex_depth": 3.1162, "contact_diameter": 5}, "outer edge", false},
		{"M6 90° with a flat", m6(map[string]float64{"pilot_drill": 0.0625 * inch, "pilot_depth": 0.1875 * inch, "tip_flat": 1.5}), 1,
			map[string]float64{"contact_diameter": 1.5875, "tip_depth": 2.7418, "tip_to_pilot_bottom": 1.570}, "pilot rim", false},
		{"flat wider than the pilot", m6(map[string]float64{"pilot_drill": 0.0625 * inch, "pilot_depth": 0.1875 * inch, "tip_flat": 1.7}), 1,
			map[string]float64{"contact_diameter": 1.7}, "edge of the tip flat", true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			res := mustRun(t, Request{Method: "cone-seat", Inputs: tc.in})
			for name, want := range tc.want {
				tol := 1e-6 // six decimals in inches, four in mm
				if tc.unit == 1 {
					tol = 1e-4
				}
				near(t, name, value(t, res, name)/tc.unit, want, tol)
			}
			on, _ := res.Figure("seats_on")
			bottoms, _ := res.Figure("bottoms")
			if on.Text[0] != tc.on || *bottoms.Flag != tc.bottoms {
				t.Errorf("got %s, bottoms %v, want %s, %v", on.Text[0], *bottoms.Flag, tc.on, tc.bottoms)
			}
		})
	}
}

// No point of the cone may lie inside the metal, and one must touch it: the drilled profile traced point by point.
func TestConeSeatTouchesAndDoesNotCut(t *testing.T) {
	cot := func(whole float64) float64 { return 1 / math.Tan(whole*math.Pi/360) }
	for _, tc := range []struct{ pilot, pilotDepth, cone, flat, base float64 }{
		{3, 5, 90, 0, 6}, {1.5, 5, 90, 1.4, 5.5}, {3, 3.4, 90, 0, 6}, {3, 5, 125, 0, 5}, {2, 5, 80, 0.5, 8}, {1, 4.5, 60, 0.2, 6},
	} {
		res := mustRun(t, Request{Method: "cone-seat", Inputs: map[string]Val{"seat_drill": num(6.5), "seat_depth": num(3.2), "pilot_drill": num(tc.pilot), "pilot_depth": num(tc.pilotDepth),
			"screw_diameter": num(8), "cone_angle": num(tc.cone), "tip_flat": num(tc.flat), "cone_base": num(tc.base)}})
		z := value(t, res, "apex_depth")
		least := math.Inf(1)
		for i := 0; i <= 40000; i++ {
			r := float64(i) * 1e-4
			metal := 0.0
			switch {
			case r < tc.pilot/2:
				metal = math.Max(tc.pilotDepth-r*cot(118), 3.2-r*cot(118))
			case r < 3.25:
				metal = 3.2 - r*cot(118)
			}
			if r >= tc.flat/2 && r <= tc.base/2 {
				least = math.Min(least, metal-(z-r*cot(tc.cone)))
			}
		}
		if math.Abs(least) > 2e-4 {
			t.Errorf("%+v: nearest approach %.5f mm, want 0", tc, least)
		}
	}
}
