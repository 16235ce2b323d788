package calc

import (
	"math"
	"strings"
	"testing"

	"thoud/calc/quantity"
)

// endGauge is the measurement of example H.1 of JCGM 100:2008 (GUM), an end gauge compared with a standard:
// l = l_s + d − l_s·(δα·θ + α_s·δθ). Lengths in mm, temperatures in K, expansions in 1/K.
func endGauge() Method {
	return Method{
		Name: "end-gauge", Version: 1,
		Inputs: []Input{
			{Name: "ls", Kind: quantity.Length}, {Name: "d", Kind: quantity.Length}, {Name: "alpha", Kind: quantity.Expansion},
			{Name: "theta", Kind: quantity.Difference}, {Name: "dalpha", Kind: quantity.Expansion}, {Name: "dtheta", Kind: quantity.Difference},
		},
		Figures: []Figure{{Name: "l", Kind: quantity.Length}},
		Compute: func(in Args, out *Out) error {
			ls := in.Num("ls")
			out.Set("l", ls+in.Num("d")-ls*(in.Num("dalpha")*in.Num("theta")+in.Num("alpha")*in.Num("dtheta")))
			return nil
		},
	}
}

const nm = 1e-6

// endGaugeInputs are the values of GUM table H.1; the comparison d̄ with its three components as given in H.1.3.2.
func endGaugeInputs() map[string]Val {
	return map[string]Val{
		"ls": num(50.000623, Component{U: 25 * nm, Dof: 18}),
		"d": num(215*nm,
			Component{Name: "repeated observations", U: 13 * nm / math.Sqrt(5), Dof: 24},
			Component{Name: "comparator, random", U: 10 * nm / Coverage(0.95, 5), Dof: 5},
			Component{Name: "comparator, systematic", U: 20 * nm / 3, Dof: 8}),
		"alpha":  num(11.5e-6, Component{U: 2e-6 / math.Sqrt(3)}),
		"theta":  num(-0.1, Component{U: math.Hypot(0.2, 0.5/math.Sqrt2)}),
		"dalpha": num(0, Component{U: 1e-6 / math.Sqrt(3), Dof: 50}),
		"dtheta": num(0, Component{U: 0.05 / math.Sqrt(3), Dof: 2}),
	}
}

// The components of H.1, each as the GUM states it (by NIST TN 1297, appendix D.2).
func TestGUMH1Components(t *testing.T) {
	in := endGaugeInputs()
	d := in["d"].Num.Us
	near(t, "u(d̄), repeated observations", d[0].U/nm, 5.8, 0.05)
	near(t, "u(d1), random", d[1].U/nm, 3.9, 0.05)
	near(t, "u(d2), systematic", d[2].U/nm, 6.7, 0.05)
	near(t, "u(d)", in["d"].Num.StdU()/nm, 9.7, 0.05)
	near(t, "u(α_s)", in["alpha"].Num.StdU(), 1.2e-6, 0.05e-6)
	near(t, "u(θ)", in["theta"].Num.StdU(), 0.41, 0.005)
	near(t, "u(δα)", in["dalpha"].Num.StdU(), 0.58e-6, 0.005e-6)
	near(t, "u(δθ)", in["dtheta"].Num.StdU(), 0.029, 0.0005)
	// Welch–Satterthwaite on the components of d: 25.6 in the GUM; from the components as printed it comes to 25.45.
	dof := func(us ...float64) float64 {
		var b budget
		for i, u := range us {
			b.add(u, d[i].Dof)
		}
		return b.uu * b.uu / b.welch
	}
	near(t, "ν(d)", dof(d[0].U, d[1].U, d[2].U), 25.6, 0.05)
	near(t, "ν(d) from printed components", dof(5.8, 3.9, 6.7), 25.45, 0.01)
}

// The contributions, each alone: 25, 9.7, 0, 0, 2.9 and 16.6 nm.
func TestGUMH1Contributions(t *testing.T) {
	for name, want := range map[string]float64{"ls": 25, "d": 9.7, "alpha": 0, "theta": 0, "dalpha": 2.9, "dtheta": 16.6} {
		in := endGaugeInputs()
		for other, v := range in {
			if other != name {
				in[other] = num(v.Num.X)
			}
		}
		res, err := endGauge().Run(Request{Inputs: in})
		if err != nil {
			t.Fatal(err)
		}
		l, _ := res.Figure("l")
		got := 0.0
		if l.K > 0 {
			got = l.U / l.K / nm
		}
		near(t, name, got, want, 0.06)
	}
}

// The result: l = 50.000838 mm, u_c 32 nm, ν_eff 16 (16.7 before truncation), t₉₉(16) = 2.92, U₉₉ = 93 nm. The GUM
// multiplies rounded numbers (2.92·32); unrounded U is 92.5, so it is held to ±1 nm. Computed from a rounded u_c the
// degrees of freedom would be 17, which is a mistake.
func TestGUMH1Result(t *testing.T) {
	res, err := endGauge().Run(Request{Inputs: endGaugeInputs(), Level: 0.99})
	if err != nil {
		t.Fatal(err)
	}
	l, _ := res.Figure("l")
	near(t, "l", *l.Value, 50.000838, 0.5*nm)
	uc := l.U / l.K
	near(t, "u_c", uc/nm, 31.664, 0.02) // computed independently; the GUM prints 32
	near(t, "u_c²", uc*uc/nm/nm, 1002.6, 1)
	if l.Dof != 16 {
		t.Errorf("degrees of freedom: got %g, want 16", l.Dof)
	}
	near(t, "k", l.K, 2.92, 0.005)
	near(t, "U", l.U/nm, 93, 1)
	near(t, "U unrounded", l.U/nm, 92.48, 0.05) // computed independently
	// Second order (GUM H.1.7): l_s·u(δα)·u(θ) = 11.7 nm and l_s·u(α_s)·u(δθ) = 1.7 nm bring u_c to 34 nm.
	if len(res.Warnings) != 1 || !strings.Contains(res.Warnings[0], "first-order law is not good enough") {
		t.Fatalf("warnings: %q", res.Warnings)
	}
	if want := "u is 3.38e-05 instead of 3.17e-05 mm"; !strings.Contains(res.Warnings[0], want) {
		t.Errorf("got %q, want %q in it", res.Warnings[0], want)
	}
}

func TestGUMH1SecondOrder(t *testing.T) {
	m, in := endGauge(), endGaugeInputs()
	base, err := compute(&m, in)
	if err != nil {
		t.Fatal(err)
	}
	pr := newPropagator(&m, Request{Inputs: in}, base)
	pr.run()
	near(t, "second-order part", math.Sqrt(pr.second[0])/nm, math.Hypot(11.8, 1.7), 0.15)
	near(t, "u with second order", math.Sqrt(pr.uu[0]+pr.second[0])/nm, 34, 0.5)
	near(t, "ν before truncation", pr.uu[0]*pr.uu[0]/pr.welch[0], 16.7, 0.1)
}

// Student's t: GUM table G.2, and other spot values by scipy (computed independently).
func TestCoverage(t *testing.T) {
	for _, tc := range []struct{ level, dof, want, tol float64 }{
		{0.95, 16, 2.12, 0.005}, {0.9545, 16, 2.17, 0.005}, {0.99, 16, 2.92, 0.005}, // GUM table G.2
		{0.95, 4, 2.7764, 5e-5}, {0.95, 10, 2.2281, 5e-5}, {0.9545, 0, 2.0000, 5e-5}, // computed independently
		{0.95, 1, 12.7062, 5e-5}, {0.95, 0, 1.959964, 5e-7}, {0.99, 1, 63.657, 5e-4}, {0.95, 1000, 1.962339, 5e-7}, {0.95, 71, 1.993943, 5e-7}, {0.99, 5, 4.032142983, 1e-8}, {0.95, 46, 2.0128955953, 2e-8}, {0.99, 67, 2.6512196789, 3e-8},
	} {
		near(t, "k", Coverage(tc.level, tc.dof), tc.want, tc.tol)
	}
}

// The workshop example of a bore read five times, computed independently.
func TestUncertaintyMethod(t *testing.T) {
	in, err := ReadForm(uncertainty(), []byte(`{"readings": {"value": [72.0462, 72.0468, 72.0459, 72.0465, 72.0466], "unit": "mm"}, "resolution": "0.001 mm",
		"calibration": {"U": "0.0015 mm", "k": 2, "dof": 50}, "temperature": {"limits": "1 K", "alpha": "0.0000105 1/K", "alpha_limits": "0.000001 1/K", "away": "4 K", "dof": 8}}`))
	if err != nil {
		t.Fatal(err)
	}
	res := mustRun(t, in)
	for _, w := range []struct {
		name      string
		want, tol float64
	}{{"mean", 72.0464, 1e-9}, {"u_a", 0.158e-3, 0.0005e-3}, {"u_resolution", 0.2887e-3, 0.0001e-3}, {"u_c", 0.943e-3, 0.0005e-3}, {"dof", 71, 0}, {"k", 1.994, 0.0005}, {"U", 1.88e-3, 0.005e-3}} {
		near(t, w.name, value(t, res, w.name), w.want, w.tol)
	}
	if f, _ := res.Figure("U"); f.Kind != quantity.Length || f.U != 0 {
		t.Errorf("got %+v, want a length without an uncertainty of its own", f)
	}
	// Half-widths of a display's step (GUM F.2.2.1).
	for step, want := range map[float64]float64{0.01: 2.887, 0.001 * inch: 7.332, 0.0005 * inch: 3.666} {
		res := mustRun(t, Request{Method: "uncertainty", Kind: quantity.Length, Inputs: map[string]Val{"readings": list(1, 1), "resolution": num(step)}})
		near(t, "resolution", 1000*value(t, res, "u_resolution"), want, 0.0005)
	}
	if res, err := Run(Request{Method: "uncertainty", Inputs: map[string]Val{"readings": list(1), "resolution": num(1)}}); err != nil || res.Refused == "" {
		t.Errorf("one reading: got %+v, %v, want a refusal", res, err)
	}
}

// The combined uncertainty of GUM H.1 once more, through the method for readings.
func TestUncertaintyMethodExtra(t *testing.T) {
	in := map[string]Val{"readings": list(215, 215, 215), "resolution": num(1e-9), "level": num(0.99), "extra": {Recs: []map[string]Val{
		{"u": num(25), "dof": num(18)}, {"u": num(9.682), "dof": num(25.45)}, {"u": num(5.0000623 / math.Sqrt(3)), "dof": num(50)},
		{"u": num(0.05 / math.Sqrt(3)), "dof": num(2), "sensitivity": num(50.000623 * 11.5)},
	}}}
	res := mustRun(t, Request{Method: "uncertainty", Inputs: in})
	near(t, "u_c", value(t, res, "u_c"), 31.66, 0.01)
	near(t, "dof", value(t, res, "dof"), 16, 0)
	near(t, "U", value(t, res, "U"), 92.5, 0.1)
}
