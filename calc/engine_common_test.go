package calc

import (
	"math"
	"math/rand/v2"
	"testing"

	"thoud/calc/quantity"
)

// impedance is the measurement of example H.2 of JCGM 100:2008: V, I and φ give R = V/I·cos φ, X = V/I·sin φ and Z = V/I.
func impedance() Method {
	return Method{
		Name: "impedance", Version: 1,
		Inputs:  []Input{{Name: "V", Kind: quantity.Number}, {Name: "I", Kind: quantity.Number}, {Name: "phi", Kind: quantity.Number}},
		Figures: []Figure{{Name: "R", Kind: quantity.Number}, {Name: "X", Kind: quantity.Number}, {Name: "Z", Kind: quantity.Number}},
		Compute: func(in Args, out *Out) error {
			z := in.Num("V") / in.Num("I")
			out.Set("R", z*math.Cos(in.Num("phi")))
			out.Set("X", z*math.Sin(in.Num("phi")))
			out.Set("Z", z)
			return nil
		},
	}
}

// modulus is Z again, of R and X as another computation found them.
func modulus() Method {
	return Method{
		Name: "modulus", Version: 1,
		Inputs:  []Input{{Name: "R", Kind: quantity.Number}, {Name: "X", Kind: quantity.Number}},
		Figures: []Figure{{Name: "Z", Kind: quantity.Number}},
		Compute: func(in Args, out *Out) error {
			out.Set("Z", math.Hypot(in.Num("R"), in.Num("X")))
			return nil
		},
	}
}

// impedanceInputs are the five sets of simultaneous observations of table H.2. What a set is off the mean by is an error that its
// three observations have in common: s(x̄, ȳ) = Σ (xₖ − x̄)(yₖ − ȳ)/(n(n − 1)) (5.2.3).
func impedanceInputs() map[string]Val {
	out := map[string]Val{}
	for name, x := range map[string][]float64{
		"V":   {5.007, 4.994, 5.005, 4.990, 4.999},
		"I":   {19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		"phi": {1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
	} {
		s := summarise(x)
		n := Num{X: s.mean}
		for k, d := range s.deviations {
			n.Us = append(n.Us, Component{Name: "observations", U: d / math.Sqrt(20), Shared: string(rune('1' + k))})
		}
		out[name] = Val{Num: &n}
	}
	return out
}

// JCGM 100:2008, tables H.3 and H.4: R 127.732 ± 0.071, X 219.847 ± 0.295, Z 254.260 ± 0.236 Ω. R and X, each carried on with what
// they have in common (r(R, X) = −0.588), give that of Z too; as if they had nothing in common it would be 0.258 (computed
// independently).
func TestFiguresCarriedOnAreCorrelated(t *testing.T) {
	res, err := impedance().Run(Request{Inputs: impedanceInputs(), Common: []string{"R", "X"}})
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	carried, alone := map[string]Val{}, map[string]Val{}
	for _, want := range []struct {
		name string
		x, u float64
	}{{"R", 127.732, 0.071}, {"X", 219.847, 0.295}, {"Z", 254.260, 0.236}} {
		f, _ := res.Figure(want.name)
		near(t, want.name, *f.Value, want.x, 0.0006)
		near(t, "u("+want.name+")", f.U/f.K, want.u, 0.0006)
		n := f.Carried("figure "+want.name, "figure:"+want.name)
		near(t, "u carried of "+want.name, n.StdU(), f.U/f.K, 1e-9)
		if want.name != "Z" {
			carried[want.name] = Val{Num: &n}
			alone[want.name] = num(n.X, Component{U: n.StdU()})
		} else if f.Common != nil {
			t.Errorf("Z was not asked for and says %v", f.Common)
		}
	}
	r := 0.0
	for _, a := range carried["R"].Num.Us {
		for _, b := range carried["X"].Num.Us {
			if a.Shared == b.Shared {
				r += a.U * b.U
			}
		}
	}
	near(t, "r(R, X)", r/carried["R"].Num.StdU()/carried["X"].Num.StdU(), -0.588, 0.002)
	for what, c := range map[string]struct {
		in   map[string]Val
		want float64
	}{"in common": {carried, 0.236}, "nothing in common": {alone, 0.258}} {
		res, err := modulus().Run(Request{Inputs: c.in})
		if err != nil || res.Refused != "" {
			t.Fatal(err, res.Refused)
		}
		f, _ := res.Figure("Z")
		near(t, "u(Z) of R and X with "+what, f.U/f.K, c.want, 0.001)
	}
}

// JCGM 100:2008, 5.2.2, example: ten resistors of 1000 Ω, each calibrated against the same standard with u = 100 mΩ and a
// comparison without error, in series: u(R) = 1 Ω, and not the 0.32 Ω of ten independent ones; so their mean has 100 mΩ. In the
// difference of two of them the standard falls out (F.1.2.3, note).
func TestResistorsOfOneStandard(t *testing.T) {
	var each []Num
	for range 10 {
		in := Val{List: []Num{{X: 1000, Us: []Component{{Name: "standard", U: 0.1, Shared: "standard"}}}}}
		res, err := Run(Request{Method: "statistics", Inputs: map[string]Val{"values": in}, Common: []string{"mean"}})
		if err != nil || res.Refused != "" {
			t.Fatal(err, res.Refused)
		}
		f, _ := res.Figure("mean")
		each = append(each, f.Carried("figure mean", ""))
	}
	res, err := Run(Request{Method: "statistics", Inputs: map[string]Val{"values": {List: each}}})
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	f, _ := res.Figure("mean")
	near(t, "u of the mean", f.U/f.K, 0.1, 1e-6)
	if res, err = Run(Request{Method: "spread", Inputs: map[string]Val{"values": {List: each[:2]}}}); err != nil {
		t.Fatal(err)
	}
	if f, _ = res.Figure("range"); f.U > 1e-9 {
		t.Errorf("the difference of two has U %g", f.U)
	}
}

// The difference of two sides whose readings share a zero and a gauge, by propagation through two computations and by drawing
// the errors themselves (JCGM 101:2008, 5.2 to 7.7): the truth lies within U in 93 to 97 %, and U is no wider than the
// distribution asks for.
func TestDifferenceOfSidesHoldsTheTruth(t *testing.T) {
	const zero, gauge, setup, runs = 0.004, 0.006, 0.003, 20000
	side := func(x float64) Num {
		res, err := Run(Request{Method: "contact-clearance", Common: []string{"clearance_now"}, Inputs: map[string]Val{
			"protrusion": {List: []Num{{X: 5, Us: []Component{{Name: "set-up", U: setup}, {Name: "gauge", U: gauge, Shared: "gauge"}, {Name: "zero", U: zero, Shared: "zero of contact"}}}}},
			"now":        num(x, Component{Name: "set-up", U: setup}, Component{Name: "zero", U: zero, Shared: "zero of now"}),
			"clearance":  num(1), "joint_at_contact": num(0), "joint_at_assembly": num(0), "seated": {Flag: new(bool)},
		}})
		if err != nil || res.Refused != "" {
			t.Fatal(err, res.Refused)
		}
		f, _ := res.Figure("clearance_now")
		return f.Carried("figure clearance_now", "")
	}
	left, right := side(4.0), side(3.95)
	near(t, "u of a side", left.StdU(), math.Sqrt(2*setup*setup+gauge*gauge+2*zero*zero), 1e-9)
	res, err := Run(Request{Method: "spread", Kind: quantity.Length, Inputs: map[string]Val{"values": {List: []Num{left, right}}}})
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	f, _ := res.Figure("range")
	near(t, "U of the difference", f.U, f.K*math.Sqrt(4*setup*setup), 1e-9)
	chance, held := rand.New(rand.NewPCG(14, 7)), 0
	for range runs {
		z1, z2, g := zero*chance.NormFloat64(), zero*chance.NormFloat64(), gauge*chance.NormFloat64()
		one := func() float64 { return z1 + g + setup*chance.NormFloat64() - z2 - setup*chance.NormFloat64() }
		if math.Abs(one()-one()) <= f.U {
			held++
		}
	}
	if share := 100 * float64(held) / runs; share < 94.5 || share > 95.5 {
		t.Errorf("the difference holds the truth in %.1f %%, want 95 %%", share)
	}
}
