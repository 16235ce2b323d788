package calc

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

// formula makes a method of plain numbers x, y, … from a function.
func formula(f func(in Args, out *Out) error, choice ...string) Method {
	m := Method{Name: "formula", Version: 1, Compute: f, Figures: []Figure{{Name: "f", Kind: quantity.Number}, {Name: "angle", Kind: quantity.Angle}}}
	for _, name := range []string{"x", "y"} {
		m.Inputs = append(m.Inputs, Input{Name: name, Kind: quantity.Number})
	}
	for _, name := range choice {
		m.Figures = append(m.Figures, Figure{Name: name, Kind: quantity.Number, Choice: true})
	}
	return m
}

func spreadOf(t tester, m Method, x, y Val) FigureResult {
	t.Helper()
	res, err := m.Run(Request{Inputs: map[string]Val{"x": x, "y": y}})
	if err != nil || res.Refused != "" {
		t.Fatalf("%v %s", err, res.Refused)
	}
	f, _ := res.Figure("f")
	return f
}

func uOf(f FigureResult) float64 {
	if f.K == 0 {
		return 0
	}
	return f.U / f.K
}

// A difference of two readings from one master is free of the master's error, their sum has it twice (GUM 5.2, fully
// correlated inputs).
func TestSharedComponents(t *testing.T) {
	master := Component{U: 3, Shared: "master", Dof: 7}
	own := Component{U: 4}
	diff := formula(func(in Args, out *Out) error { out.Set("f", in.Num("x")-in.Num("y")); return nil })
	sum := formula(func(in Args, out *Out) error { out.Set("f", in.Num("x")+in.Num("y")); return nil })
	near(t, "difference", uOf(spreadOf(t, diff, num(1, master), num(2, master))), 0, 1e-12)
	near(t, "sum", uOf(spreadOf(t, sum, num(1, master), num(2, master))), 6, 1e-9)
	near(t, "difference with own", uOf(spreadOf(t, diff, num(1, master, own), num(2, master, own))), 4*math.Sqrt2, 1e-9)
	near(t, "independent", uOf(spreadOf(t, sum, num(1, Component{U: 3}), num(2, Component{U: 4}))), 5, 1e-9)
	if f := spreadOf(t, sum, num(1, master), num(2, master)); f.Dof != 7 {
		t.Errorf("degrees of freedom: got %g, want the master's 7", f.Dof)
	}
}

// A corner: at max(x, y) with x = y the larger one-sided slope counts; away from it the slope is the one there.
func TestKinks(t *testing.T) {
	most := formula(func(in Args, out *Out) error { out.Set("f", math.Max(in.Num("x"), in.Num("y"))); return nil })
	near(t, "tie", uOf(spreadOf(t, most, num(1, Component{U: 1}), num(1, Component{U: 1}))), math.Sqrt2, 1e-9)
	near(t, "clear", uOf(spreadOf(t, most, num(9, Component{U: 1}), num(1, Component{U: 1}))), 1, 1e-9)
	abs := formula(func(in Args, out *Out) error { out.Set("f", math.Abs(in.Num("x"))); return nil })
	near(t, "absolute value at its corner", uOf(spreadOf(t, abs, num(0, Component{U: 1}), num(0))), 1, 1e-9)
}

// A method that refuses on one side of the value, or jumps to another choice there, keeps the slope of the other side.
func TestOneSided(t *testing.T) {
	edge := formula(func(in Args, out *Out) error {
		if in.Num("x") < 1 {
			return Refuse("x", "", "too small")
		}
		out.Set("f", 3*in.Num("x"))
		return nil
	})
	near(t, "refused below", uOf(spreadOf(t, edge, num(1, Component{U: 0.5}), num(0))), 1.5, 1e-9)
	steps := formula(func(in Args, out *Out) error {
		n := math.Floor(in.Num("x") / 10)
		out.Set("pieces", n)
		out.Set("f", in.Num("x")-10*n)
		return nil
	}, "pieces")
	near(t, "choice", uOf(spreadOf(t, steps, num(19.9, Component{U: 1}), num(0))), 1, 1e-9)
	never := formula(func(in Args, out *Out) error {
		if in.Num("x") != 1 {
			return Refuse("x", "", "only one will do")
		}
		out.Set("f", 1)
		return nil
	})
	res, err := never.Run(Request{Inputs: map[string]Val{"x": num(1, Component{U: 1}), "y": num(0)}})
	if err != nil || len(res.Warnings) != 1 || !strings.Contains(res.Warnings[0], "x: its uncertainty could not be carried through") {
		t.Errorf("got %v, %v", res.Warnings, err)
	}
}

// An angle at the seam of the turn has no uncertainty of a whole turn.
func TestAngleSeam(t *testing.T) {
	m := formula(func(in Args, out *Out) error {
		out.Set("angle", wrap(in.Num("x"), 720))
		out.Set("f", 0)
		return nil
	})
	res, err := m.Run(Request{Inputs: map[string]Val{"x": num(720, Component{U: 0.5}), "y": num(0)}})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := res.Figure("angle")
	near(t, "angle", uOf(a), 0.5, 1e-9)
}

func TestSecondOrderWarning(t *testing.T) {
	square := formula(func(in Args, out *Out) error { out.Set("f", in.Num("x")*in.Num("x")); return nil })
	for _, tc := range []struct {
		x, u float64
		warn bool
	}{{0, 1, true}, {1, 1, true}, {10, 1, false}} {
		res, err := square.Run(Request{Inputs: map[string]Val{"x": num(tc.x, Component{U: tc.u}), "y": num(0)}})
		if err != nil {
			t.Fatal(err)
		}
		if got := len(res.Warnings) == 1; got != tc.warn {
			t.Errorf("x = %g ± %g: warnings %v", tc.x, tc.u, res.Warnings)
		}
	}
}

// Many list members are moved together by signs: the mean square is that of one by one, to the 15 % claimed.
func TestManyMembersBySigns(t *testing.T) {
	m := Method{Name: "mean", Version: 1, Inputs: []Input{{Name: "x", Shape: List, Kind: quantity.Number}}, Figures: []Figure{{Name: "f", Kind: quantity.Number}},
		Compute: func(in Args, out *Out) error { out.Set("f", summarise(in.List("x")).mean); return nil }}
	var v Val
	for i := range 1440 {
		v.List = append(v.List, Num{X: float64(i % 7), Us: []Component{{U: 2, Dof: 9}}})
	}
	res, err := m.Run(Request{Inputs: map[string]Val{"x": v}})
	if err != nil {
		t.Fatal(err)
	}
	f, _ := res.Figure("f")
	want := 2 / math.Sqrt(1440)
	near(t, "u", uOf(f), want, 0.35*want)
	if f.Dof != 9 {
		t.Errorf("degrees of freedom: got %g, want 9", f.Dof)
	}
}

// Inputs without uncertainty give figures without, but for the mean, whose readings show their scatter: s/√n = 1/√3,
// t(2) = 4.3027 (from a table).
func TestNoUncertaintyNoU(t *testing.T) {
	res := mustRun(t, Request{Method: "statistics", Inputs: map[string]Val{"values": list(1, 2, 3)}})
	for _, f := range res.Figures {
		if f.Name == "mean" {
			near(t, "U of the mean", f.U, 4.3027/math.Sqrt(3), 1e-4)
			continue
		}
		if f.U != 0 || f.K != 0 {
			t.Errorf("%s: U %g, k %g", f.Name, f.U, f.K)
		}
	}
}

// Run leaves the caller's numbers alone.
func TestRunDoesNotTouchInputs(t *testing.T) {
	v := Val{List: []Num{{X: 1, Us: []Component{{U: 0.1}}}, {X: 2}}}
	mustRun(t, Request{Method: "statistics", Inputs: map[string]Val{"values": v}})
	if v.List[0].X != 1 || v.List[1].X != 2 {
		t.Errorf("got %v", v.List)
	}
}

// monteCarlo propagates the distributions themselves (JCGM 101): every component normal, or scaled and shifted t where
// its degrees of freedom are finite. It gives mean and standard deviation of a figure.
func monteCarlo(t *testing.T, req Request, figure string, trials int) (mean, sd float64) {
	t.Helper()
	m, ok := Find(req.Method)
	if !ok {
		t.Fatalf("no method %s", req.Method)
	}
	rng := rand.New(rand.NewPCG(20, 101))
	work := cloneVals(req.Inputs)
	sources := collectSources(m.Inputs, work)
	base := make([][]float64, len(sources))
	for i, s := range sources {
		for _, n := range s.nums {
			base[i] = append(base[i], n.X)
		}
	}
	var ys []float64
	for range trials {
		for i, s := range sources {
			for j, n := range s.nums {
				n.X = base[i][j]
			}
		}
		for _, s := range sources {
			z := rng.NormFloat64()
			for j, n := range s.nums {
				n.X += z * s.steps[j]
			}
		}
		out, err := compute(&m, work)
		if err != nil {
			continue
		}
		ys = append(ys, out.nums[figure])
	}
	if len(ys) < trials*99/100 {
		t.Fatalf("%s refused %d of %d trials", req.Method, trials-len(ys), trials)
	}
	s := summarise(ys)
	return s.mean, s.sd
}

// Where first order is not good enough, Monte Carlo shows it and the output says it.
func TestMonteCarloWhereFirstOrderFails(t *testing.T) {
	m, _ := Find("indicator-travel")
	req, err := ReadForm(m, []byte(`{"reading": "1 mm", "zero": "0 mm", "misalignment": {"value": 0, "unit": "deg", "u": 8}}`))
	if err != nil {
		t.Fatal(err)
	}
	res := mustRun(t, req)
	f, _ := res.Figure("displacement")
	_, sd := monteCarlo(t, req, "displacement", 20000)
	if sd < 10*uOf(f) {
		t.Errorf("Monte Carlo %g, first order %g: no example of what this is about", sd, uOf(f))
	}
	if !slices.ContainsFunc(res.Warnings, func(s string) bool { return strings.Contains(s, "first-order law is not good enough") }) {
		t.Errorf("warnings: %v", res.Warnings)
	}
}

// The uncertainty does not depend on the unit, and grows with the inputs' in proportion.
func TestUncertaintyScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u, f := rapid.Float64Range(1e-4, 1e-2).Draw(t, "u"), rapid.Float64Range(1, 5).Draw(t, "factor")
		at := func(u float64) float64 {
			r := mustRun(t, Request{Method: "running-fit", Inputs: map[string]Val{"hole": num(19.05, Component{U: u}), "shaft": num(19.02, Component{U: u / 2})}})
			fr, _ := r.Figure("clearance")
			return fr.U
		}
		if a, b := at(u)*f, at(u*f); math.Abs(a-b) > 1e-6*b {
			t.Fatalf("%g times gives %g, want %g", f, b, a)
		}
	})
}
