package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func crankMasses() given {
	return given{"piston": 285.0, "pin": 62.0, "rings": 18.0, "clips": 4.0, "small_end": 142.0, "big_end": 318.0, "cylinders": 2}
}

func TestBalance(t *testing.T) {
	// Computed independently.
	out := figuresOf(t, "balance", crankMasses().with("factor_wanted", 0.72))
	figureNear(t, out, "reciprocating", 1022, 1e-9)
	figureNear(t, out, "rotating", 636, 1e-9)
	figureNear(t, out, "bob_weight", 1371.84, 1e-9)
	in := crankMasses().with("hung", 390.0).with("factor_wanted", 0.62).with("crank_radius", 40.0).with("hole_radius", 52.0).
		with("holes", 4).with("drill", 12.0).with("density", 7.85)
	out = figuresOf(t, "balance", in)
	figureNear(t, out, "factor_now", 0.65949, 5e-6)
	figureNear(t, out, "remove", 31.046, 5e-4)
	figureNear(t, out, "per_hole", 31.046/4, 5e-4)
	figureNear(t, out, "depth_full", 7.541, 5e-4)
	figureNear(t, out, "depth_to_tip", 11.146, 5e-4)
	flat := figuresOf(t, "balance", in.with("drill_angle", 180.0))
	figureNear(t, flat, "depth_full", 8.742, 5e-4)
	figureNear(t, flat, "depth_to_tip", 8.742, 5e-4)
	add := figuresOf(t, "balance", in.with("factor_wanted", 0.70).with("plug_density", 17.0))
	if add.texts["action"][0] != "add" || add.nums["remove"] >= 0 {
		t.Errorf("to 0.70: %v %g, want to add", add.texts["action"], add.nums["remove"])
	}
}

// Taking the mass off where the words say gives the factor wanted: moments about the crank's axis along the
// counterweight's line, the weight hung again until it balances.
func TestBalanceHolesReachFactor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := crankMasses().with("hung", rapid.Float64Range(100, 600).Draw(t, "hung")).with("factor_wanted", rapid.Float64Range(0.4, 0.9).Draw(t, "wanted")).
			with("crank_radius", 40.0).with("hole_radius", rapid.Float64Range(30, 70).Draw(t, "r")).with("hole_angle", rapid.Float64Range(-60, 60).Draw(t, "angle"))
		out, err := outOf("balance", in)
		if err != nil {
			t.Fatal(err)
		}
		lost := out.nums["remove"] * in["hole_radius"].(float64) * math.Cos(in["hole_angle"].(float64)*math.Pi/180)
		hung := in["hung"].(float64) - lost/40 // a lighter counterweight balances less at the crankpin
		again, err := outOf("balance", in.with("hung", math.Max(hung, 0)))
		if err != nil {
			t.Fatal(err)
		}
		if d := again.nums["factor_now"] - in["factor_wanted"].(float64); hung > 0 && math.Abs(d) > 1e-12 {
			t.Fatalf("factor off by %g", d)
		}
	})
}

// The hole drilled to the depths given has the volume asked for, also where it is all point.
func TestDrillDepthHasTheVolume(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(1, 3000).Draw(t, "volume")
		d := rapid.Float64Range(3, 20).Draw(t, "drill")
		p := rapid.Float64Range(60, 180).Draw(t, "point")
		full, tip := drillDepth(v, d, p)
		point := tip - full
		r := d / 2
		if full == 0 && p < 180 {
			r = point * math.Tan(p/2*math.Pi/180)
		}
		if got := math.Pi*d*d/4*full + math.Pi*r*r*point/3; math.Abs(got-v) > 1e-6*v {
			t.Fatalf("volume %g, want %g", got, v)
		}
	})
}

func TestBalanceRefuses(t *testing.T) {
	in := crankMasses().with("hung", 390.0).with("factor_wanted", 0.62).with("crank_radius", 40.0).with("hole_radius", 52.0).with("holes", 4).with("drill", 12.0).with("density", 7.85)
	refused(t, "balance", in.with("factor_wanted", 62.0), "factor_wanted")
	refused(t, "balance", in.with("cylinders", 1.5), "cylinders")
	refused(t, "balance", in.with("hole_angle", 90.0), "hole_angle")
	refused(t, "balance", in.with("holes", 0.0), "holes")
	refused(t, "balance", in.with("drill_angle", 200.0), "drill_angle")
	refused(t, "balance", in.with("pin", -1.0), "pin")
	refused(t, "balance", in.with("factor_wanted", 0.7).with("plug_density", 7.0), "plug_density")
	for _, name := range []string{"density", "hole_radius"} {
		g := in.with(name, 1.0)
		delete(g, name)
		refused(t, "balance", g, name)
	}
}
