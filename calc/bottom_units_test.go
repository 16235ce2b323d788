package calc

import (
	"math"
	"testing"
)

// The same job written in inches and in millimetres gives the same figures; the inch is 25.4 mm exactly.
func TestBottomEndInchEqualsMetric(t *testing.T) {
	for _, c := range []struct{ method, inch, metric string }{
		{"end-float",
			`{"push": "0 in", "pull": "0.0365 in", "wanted": "0.008 in", "shims": {"value": [0.003, 0.005, 0.010, 0.020], "unit": "[in_i]"}}`,
			`{"push": "0 mm", "pull": "0.9271 mm", "wanted": "0.2032 mm", "shims": ["0.0762 mm", "0.127 mm", "0.254 mm", "0.508 mm"]}`},
		{"shim-both-sides",
			`{"gap_left": "0.040 in", "gap_right": "0.060 in", "wanted": "10 thou", "shims": ["0.020 in", "0.020 in", "0.015 in", "0.010 in"]}`,
			`{"gap_left": "1.016 mm", "gap_right": "1.524 mm", "wanted": "0.254 mm", "shims": ["508 um", "0.508 mm", "0.381 mm", "0.254 mm"]}`},
		{"bolt-angle",
			`{"modulus": "206 GPa", "segments": [{"length": "4 in", "diameter": "5/16 in"}], "clamped": {"length": "4 in", "modulus": "72 GPa", "area": "1 in2"}, "pitch": "26 tpi", "angle": "60 deg"}`,
			`{"modulus": "206000 N/mm2", "segments": [{"length": "101.6 mm", "diameter": "7.9375 mm"}], "clamped": {"length": "101.6 mm", "modulus": "72000 N/mm2", "area": "645.16 mm2"}, "pitch": "0.976923076923 mm", "angle": "60 deg"}`},
		{"compression",
			`{"bore": "2.84 in", "stroke": "3.15 in", "deck": "0.020 in", "chamber": "2 in3", "ratio_wanted": 9.5}`,
			`{"bore": "72.136 mm", "stroke": "80.01 mm", "deck": "0.508 mm", "chamber": "32.774128 cm3", "ratio_wanted": 9.5}`},
		{"rocker-geometry",
			`{"valve_arm": "1.5 in", "pushrod_arm": "1.25 in", "lift": "0.37 in", "closed_angle": "3 deg"}`,
			`{"valve_arm": "38.1 mm", "pushrod_arm": "31.75 mm", "lift": "9.398 mm", "closed_angle": "3 deg"}`},
	} {
		a, b := runForm(t, c.method, c.inch), runForm(t, c.method, c.metric)
		if len(a.Figures) == 0 || len(a.Figures) != len(b.Figures) {
			t.Errorf("%s: %d and %d figures", c.method, len(a.Figures), len(b.Figures))
			continue
		}
		for i, f := range a.Figures {
			x, y := append([]float64{}, f.List...), append([]float64{}, b.Figures[i].List...)
			if f.Value != nil {
				x, y = append(x, *f.Value), append(y, *b.Figures[i].Value)
			}
			for j := range x {
				if len(x) != len(y) || math.Abs(x[j]-y[j]) > 1e-9*math.Max(1, math.Abs(x[j])) {
					t.Errorf("%s %s: %v in inches, %v in mm", c.method, f.Name, x, y)
				}
			}
		}
	}
}

func runForm(t *testing.T, method, form string) Result {
	t.Helper()
	m, ok := Find(method)
	if !ok {
		t.Fatalf("no method %s", method)
	}
	req, err := ReadForm(m, []byte(form))
	if err != nil {
		t.Fatalf("%s: %v", method, err)
	}
	res, err := Run(req)
	if err != nil || res.Refused != "" {
		t.Fatalf("%s: %v %s", method, err, res.Refused)
	}
	return res
}

// The uncertainty of a stretch goes into the force by the bolt's stiffness; a torque's by its arm. Both are straight lines, so
// the law of propagation is exact: computed by hand.
func TestBoltUncertainty(t *testing.T) {
	us := []Component{{Name: "micrometer", U: 0.002}}
	res, err := Run(Request{Method: "bolt-preload", Inputs: given{"modulus": 206000.0, "segments": plainStud(), "stretch": Num{X: 0.2405, Us: us}}.vals()})
	if err != nil {
		t.Fatal(err)
	}
	f, _ := res.Figure("preload")
	k, _ := res.Figure("stiffness")
	if want := f.K * *k.Value * 0.002; math.Abs(f.U-want) > 1e-6*want {
		t.Errorf("U of the preload %g N, want %g", f.U, want)
	}
}
