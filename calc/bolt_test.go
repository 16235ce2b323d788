package calc

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// plainStud and waistedStud are a stud M10×1.25 of 150 mm, E 206 GPa.
func plainStud() []given {
	return []given{{"length": 130.0, "diameter": 10.0}, {"length": 20.0, "thread": "M10x1.25"}}
}

func waistedStud() []given {
	return []given{{"length": 110.0, "diameter": 7.8}, {"length": 20.0, "diameter": 10.0}, {"length": 20.0, "thread": "M10x1.25"}}
}

func TestBoltPreload(t *testing.T) {
	// Computed independently.
	in := given{"modulus": 206000.0, "segments": plainStud(), "stretch": 0.2405}
	out := figuresOf(t, "bolt-preload", in)
	figureNear(t, out, "stiffness", 103930, 5)
	figureNear(t, out, "preload", 25000, 10)
	out = figuresOf(t, "bolt-preload", in.with("segments", waistedStud()).with("stretch", 0.3499).with("proof_stress", 580.0))
	figureNear(t, out, "stiffness", 71440, 5)
	figureNear(t, out, "preload", 25000, 10)
	figureNear(t, out, "governing_area", math.Pi/4*7.8*7.8, 1e-9)
	figureNear(t, out, "share_of_proof", 25000/(math.Pi/4*7.8*7.8)/580, 1e-3)
	if got := out.texts["governing"]; len(got) != 1 || got[0] != "section 1, the plain length" {
		t.Errorf("governing %q, want the waist", got)
	}
	if len(out.warnings) != 0 {
		t.Errorf("warned %v below proof", out.warnings)
	}
	if out := figuresOf(t, "bolt-preload", in.with("stretch", 0.6).with("proof_stress", 580.0)); len(out.warnings) == 0 {
		t.Error("no warning past the proof stress")
	}
}

func TestRodBoltInches(t *testing.T) {
	// Computed independently, in pounds and inches: 1007191 lbf/in, 0.0060 in gives 6043 lbf and 109.6 ksi in the shank.
	const psi = 4.4482216152605 / (25.4 * 25.4)
	out := figuresOf(t, "bolt-preload", given{
		"modulus": 30e6 * psi, "stretch": 0.0060 * 25.4,
		"segments": []given{{"length": 0.15 * 25.4, "diameter": 0.3125 * 25.4}, {"length": 1.25 * 25.4, "diameter": 0.265 * 25.4}, {"length": 0.30 * 25.4, "thread": "5/16-24 UNF"}},
	})
	figureNear(t, out, "stiffness", 1007191*4.4482216152605/25.4, 20)
	figureNear(t, out, "preload", 6043*4.4482216152605, 3)
	figureNear(t, out, "stress", 109.6e3*psi, 0.05e3*psi)
}

// Tightening by the stretch that is left reaches the force wanted.
func TestBoltStretchReachesForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := given{"modulus": 206000.0, "segments": waistedStud(), "stretch": rapid.Float64Range(0.01, 0.6).Draw(t, "stretch"), "preload_wanted": rapid.Float64Range(1000, 40000).Draw(t, "wanted")}
		out, err := outOf("bolt-preload", in)
		if err != nil {
			t.Fatal(err)
		}
		then, err := outOf("bolt-preload", in.with("stretch", in["stretch"].(float64)+out.adjustments[0].Amount))
		if err != nil {
			t.Fatal(err)
		}
		if d := then.nums["preload"] - in["preload_wanted"].(float64); math.Abs(d) > 1e-6 {
			t.Fatalf("off by %g N", d)
		}
	})
}

func TestBoltTorqueAgainstVDI2230(t *testing.T) {
	b, err := os.ReadFile("../testdata/published/vdi-2230-fine-threads.json")
	if err != nil {
		t.Fatal(err)
	}
	// VDI 2230 part 1 (2001/2003), fine threads; the bearing faces and holes are from memory.
	var table struct {
		Yield    []float64 `json:"rp02_N_per_mm2"`
		Geometry map[string]struct {
			Outer float64 `json:"bearing_outer"`
			Hole  float64 `json:"hole"`
		} `json:"geometry_from_memory"`
		Rows []struct {
			Thread  string
			Mu      float64
			Preload []float64 `json:"preload_kN"`
			Torque  []float64 `json:"torque_Nm"`
		}
	}
	if err := json.Unmarshal(b, &table); err != nil {
		t.Fatal(err)
	}
	n, worstF, worstT := 0, 0.0, 0.0
	for _, row := range table.Rows {
		g := table.Geometry[row.Thread]
		for i, yield := range table.Yield {
			in := given{"thread": row.Thread, "preload": row.Preload[i] * 1000, "mu_thread": row.Mu, "mu_face": row.Mu, "face_outer": g.Outer, "face_inner": g.Hole, "yield": yield}
			out := figuresOf(t, "bolt-torque", in)
			f := math.Abs(out.nums["preload_limit"]/1000/row.Preload[i] - 1)
			m := math.Abs(out.nums["torque_limit"]/row.Torque[i] - 1)
			worstF, worstT = math.Max(worstF, f), math.Max(worstT, m)
			if f > 0.003 || m > 0.009 {
				t.Errorf("%s μ %g R %g: %.2f kN %.2f N·m, table %g kN %g N·m", row.Thread, row.Mu, yield, out.nums["preload_limit"]/1000, out.nums["torque_limit"], row.Preload[i], row.Torque[i])
			}
			n += 2
		}
	}
	if n != 54 {
		t.Errorf("compared %d values, the table has 54", n)
	}
	t.Logf("%d values: force within %.2f %%, torque within %.2f %%", n, 100*worstF, 100*worstT)
	// The published worked example M12, 8.8, μ 0.14: 41.9 kN.
	out := figuresOf(t, "bolt-torque", given{"thread": "M12", "preload": 41900.0, "mu_thread": 0.14, "mu_face": 0.14, "face_outer": 16.63, "face_inner": 13.5, "yield": 640.0})
	figureNear(t, out, "preload_limit", 41900, 0.003*41900)
}

func TestBoltTorque(t *testing.T) {
	// Computed independently: 25 kN, μ 0.12, mean face diameter 12.815.
	in := given{"thread": "M10x1.25", "preload": 25000.0, "mu_thread": 0.12, "mu_face": 0.12, "face_outer": 14.63, "face_inner": 11.0, "mu_low": 0.10, "mu_high": 0.14}
	out := figuresOf(t, "bolt-torque", in)
	figureNear(t, out, "torque", 40.11, 0.005)
	low, high := out.nums["preload_low"], out.nums["preload_high"]
	if !(low < 25000 && 25000 < high) {
		t.Errorf("band %g to %g does not hold 25 kN", low, high)
	}
	// The torque for the lower force at the higher friction is the same torque.
	figureNear(t, figuresOf(t, "bolt-torque", in.with("preload", low).with("mu_thread", 0.14).with("mu_face", 0.14)), "torque", out.nums["torque"], 1e-9)
	figureNear(t, figuresOf(t, "bolt-torque", in.with("preload", high).with("mu_thread", 0.10).with("mu_face", 0.10)), "torque", out.nums["torque"], 1e-9)
	// A 55° flank: plane geometry, computed independently for 1/4-20 BSW, F 5000, μ 0.15, faces 11 and 6.5.
	w := figuresOf(t, "bolt-torque", given{"thread": "1/4-20 BSW", "preload": 5000.0, "mu_thread": 0.15, "mu_face": 0.15, "face_outer": 11.0, "face_inner": 6.5})
	figureNear(t, w, "torque", 6.63266, 0.00001)
}

func TestBoltHeat(t *testing.T) {
	// Computed independently.
	in := given{
		"modulus": 206000.0, "segments": plainStud(), "cold_preload": 25000.0,
		"clamped": given{"length": 150.0, "modulus": 72000.0, "area": 900.0, "alpha": 21e-6, "rise": 120.0},
		"bolt":    given{"alpha": 11.5e-6, "rise": 80.0},
	}
	out := figuresOf(t, "bolt-heat", in)
	figureNear(t, out, "mismatch", 0.240, 1e-9)
	figureNear(t, out, "rise", 20110, 5)
	figureNear(t, out, "hot_preload", 45110, 5)
	figureNear(t, out, "share_of_load", 0.1939, 5e-5)
	out = figuresOf(t, "bolt-heat", in.with("segments", waistedStud()).with("proof_stress", 830.0))
	figureNear(t, out, "rise", 14710, 5)
	figureNear(t, out, "share_of_load", 0.1419, 5e-5)
	figureNear(t, out, "proof_limit", 830*math.Pi/4*7.8*7.8, 1e-6)
	figureNear(t, out, "over_proof", 39710-830*math.Pi/4*7.8*7.8, 10)
	if len(out.warnings) == 0 {
		t.Error("a bolt past its proof stress when hot gave no warning")
	}
}

func TestBoltAngle(t *testing.T) {
	// Computed independently: k_b 71.4 and k_c 300 kN/mm, P 1.25, 60° give 57.67 kN/mm and 12.02 kN. The two stiffnesses
	// as sections of one material: area = k·L/E.
	d := math.Sqrt(4 / math.Pi * 71400.0 * 100 / 206000)
	in := given{
		"modulus": 206000.0, "segments": []given{{"length": 100.0, "diameter": d}},
		"clamped": given{"length": 100.0, "modulus": 72000.0, "area": 300000.0 * 100 / 72000},
		"pitch":   1.25, "angle": 60.0,
	}
	out := figuresOf(t, "bolt-angle", in)
	figureNear(t, out, "stiffness", 57670, 5)
	figureNear(t, out, "preload", 12020, 10)
	figureNear(t, figuresOf(t, "bolt-angle", in.with("snug", 3000.0)), "preload", out.nums["preload"]+3000, 1e-6)
	refused(t, "bolt-angle", in.with("angle", -60.0), "angle")
	refused(t, "bolt-angle", in.with("angle", 400.0), "angle")
	refused(t, "bolt-angle", in.with("snug", -1.0), "snug")
}

func railBolt() given {
	return given{
		"modulus": 206000.0, "segments": []given{{"length": 95.0, "diameter": 8.4}, {"length": 22.0, "thread": "3/8-24 UNF"}},
		"clamped": given{"length": 117.0, "modulus": 72000.0, "area": 700.0}, "pitch": 25.4 / 24, "preload_wanted": 26000.0,
	}
}

// The angle for a wanted force. Computed independently, no published example.
func TestBoltAngleForAForce(t *testing.T) {
	in := railBolt().with("snug", 3500.0)
	out := figuresOf(t, "bolt-angle", in)
	figureNear(t, out, "stiffness", 79820, 5)
	figureNear(t, out, "angle_needed", 95.88, 0.005)
	figureNear(t, out, "stress", 469, 0.5)
	if a := out.adjustments[0]; a.Direction != "tighten" || math.Abs(a.Amount-out.nums["angle_needed"]) > 1e-12 {
		t.Errorf("%+v", a)
	}
	torque := railBolt().with("snug_torque", 9.0).with("thread", "3/8-24 UNF").with("mu_thread", 0.13).with("mu_face", 0.13).
		with("face_outer", 15.9).with("face_inner", 9.9).with("mu_low", 0.10).with("mu_high", 0.16)
	out = figuresOf(t, "bolt-angle", torque)
	figureNear(t, out, "snug", 5388, 1)
	figureNear(t, out, "angle_needed", 87.83, 0.01)
	figureNear(t, out, "angle_low", 81.82, 0.01)
	figureNear(t, out, "angle_high", 91.78, 0.01)
	settled := figuresOf(t, "bolt-angle", torque.with("settling", 0.008))
	figureNear(t, settled, "settling_loss", 639, 0.5)
	figureNear(t, settled, "angle_needed", out.nums["angle_needed"]+2.72, 0.005)
	// u_θ 2°, u_k 8 %, u_s 500 N → u(F) 1.93 kN. The 8 % are put into the modulus of both, which the stiffness goes with.
	uncertain := railBolt().with("angle", Num{X: 95.88, Us: []Component{{U: 2}}}).with("snug", Num{X: 3500, Us: []Component{{U: 500}}}).
		with("modulus", Num{X: 206000, Us: []Component{{U: 0.08 * 206000, Shared: "stiffness"}}}).
		with("clamped", given{"length": 117.0, "modulus": Num{X: 72000, Us: []Component{{U: 0.08 * 72000, Shared: "stiffness"}}}, "area": 700.0})
	delete(uncertain, "preload_wanted")
	f, _ := mustRun(t, Request{Method: "bolt-angle", Inputs: uncertain.vals()}).Figure("preload")
	near(t, "u of the force", f.U/f.K, 1930, 15)
}

// Turned by what is said, the bolt has the force wanted.
func TestBoltAngleReachesForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := railBolt().with("snug", rapid.Float64Range(0, 12000).Draw(t, "snug")).with("angle", rapid.Float64Range(1, 200).Draw(t, "angle"))
		out, err := outOf("bolt-angle", in)
		if err != nil {
			t.Fatal(err)
		}
		again, err := outOf("bolt-angle", in.with("angle", in["angle"].(float64)+out.adjustments[0].Amount))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(again.nums["preload"]-26000) > 1e-6 {
			t.Fatalf("%g N, want 26 kN", again.nums["preload"])
		}
	})
}

func TestBoltAngleForAForceRefuses(t *testing.T) {
	in := railBolt().with("snug", 3500.0)
	refused(t, "bolt-angle", in.with("preload_wanted", 3000.0), "preload_wanted")
	refused(t, "bolt-angle", in.with("proof_stress", 400.0), "preload_wanted")
	refused(t, "bolt-angle", in.with("preload_wanted", 260000.0), "preload_wanted")
	refused(t, "bolt-angle", in.with("snug_torque", 9.0), "snug_torque")
	torque := railBolt().with("snug_torque", 9.0)
	refused(t, "bolt-angle", torque, "thread")
	torque = torque.with("thread", "3/8-24 UNF").with("mu_thread", 0.13).with("mu_face", 0.13).with("face_outer", 15.9).with("face_inner", 9.9)
	refused(t, "bolt-angle", torque.with("pitch", 1.5), "pitch")
	refused(t, "bolt-angle", torque.with("mu_low", 0.005).with("snug_torque", 20.0), "preload_wanted")
	refused(t, "bolt-angle", torque.with("face_inner", 20.0), "face_inner")
	none := railBolt()
	delete(none, "preload_wanted")
	refused(t, "bolt-angle", none, "angle")
	for _, c := range []struct {
		in   given
		says string
	}{{in.with("snug", 14000.0), "more than half"}, {in.with("proof_stress", 500.0), "94 %"}} {
		if out := figuresOf(t, "bolt-angle", c.in); !strings.Contains(strings.Join(out.warnings, " "), c.says) {
			t.Errorf("warnings %q, want %q", out.warnings, c.says)
		}
	}
}

func TestBoltsRefuse(t *testing.T) {
	in := given{"modulus": 206000.0, "segments": plainStud(), "stretch": 0.24}
	refused(t, "bolt-preload", in.with("stretch", 0.0), "stretch")
	refused(t, "bolt-preload", in.with("stretch", -0.1), "stretch")
	refused(t, "bolt-preload", in.with("segments", []given{}), "segments")
	refused(t, "bolt-preload", in.with("segments", []given{{"length": 10.0}}), "segments[0]")
	refused(t, "bolt-preload", in.with("segments", []given{{"length": 10.0, "diameter": 8.0, "thread": "M8"}}), "segments[0]")
	refused(t, "bolt-preload", in.with("segments", []given{{"length": 10.0, "thread": "1/4-20"}}), "segments[0].thread")
	torque := given{"thread": "M10x1.25", "preload": 25000.0, "mu_thread": 0.12, "mu_face": 0.12, "face_outer": 14.63, "face_inner": 11.0}
	refused(t, "bolt-torque", torque.with("mu_thread", 0.0), "mu_thread")
	refused(t, "bolt-torque", torque.with("mu_face", 12.0), "mu_face")
	refused(t, "bolt-torque", torque.with("face_inner", 15.0), "face_inner")
	refused(t, "bolt-torque", torque.with("face_inner", 5.0), "face_inner")
	refused(t, "bolt-torque", torque.with("mu_low", 0.2), "mu_low")
}
