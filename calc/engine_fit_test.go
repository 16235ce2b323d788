package calc

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// spreadList gives every number of a list one uncertainty.
func spreadList(u float64, xs ...float64) Val {
	v := list(xs...)
	for i := range v.List {
		v.List[i].Us = []Component{{U: u}}
	}
	return v
}

func warned(res Result, words string) bool {
	return slices.ContainsFunc(res.Warnings, func(s string) bool { return strings.Contains(s, words) })
}

// Eight readings of a piston that scatter six times what is stated for them; the numbers computed independently, no
// published example.
func TestFitTakesTheLargerUncertainty(t *testing.T) {
	angles := list(-40, -33, -26, -20, 20, 26, 33, 40)
	readings := []float64{8.13, 11.72, 14.71, 16.78, 17.28, 15.25, 12.40, 8.95}
	at := func(u float64) Result {
		in := map[string]Val{"stroke": num(80), "rod": num(160), "crank_angle": angles, "reading": list(readings...)}
		if u > 0 {
			in["reading"] = spreadList(u, readings...)
		}
		return mustRun(t, Request{Method: "tdc-fit", Inputs: in})
	}
	small := at(0.005)
	f, _ := small.Figure("tdc")
	near(t, "tdc", *f.Value, 0.758, 0.0005)
	near(t, "U", f.U, 0.058, 0.0005)
	near(t, "u", f.U/f.K, 0.02359, 0.00001)
	near(t, "k", f.K, 2.447, 0.0005)
	if f.Dof != 6 || f.From != fromScatter || !warned(small, "scatter 5.7 times what is stated") {
		t.Errorf("%v degrees of freedom, from %q, warnings %q", f.Dof, f.From, small.Warnings)
	}
	// What is stated as large as the scatter counts, with its own degrees of freedom.
	honest := at(0.0285)
	f, _ = honest.Figure("tdc")
	near(t, "U as stated", f.U, 1.959964*0.0236, 0.0001)
	if f.Dof != 0 || f.From != fromStated || len(honest.Warnings) > 0 {
		t.Errorf("%v degrees of freedom, from %q, warnings %q", f.Dof, f.From, honest.Warnings)
	}
	// Nothing stated: the scatter alone, and the output says so.
	alone := at(0)
	f, _ = alone.Figure("tdc")
	near(t, "U of the scatter", f.U, 2.447*0.02359, 0.0001)
	if !warned(alone, "scatter only") {
		t.Errorf("warnings %q", alone.Warnings)
	}
}

// The 80 % points of chi-square over its degrees of freedom (from a table, by memory, not verified; the last by the
// formula of Wilson and Hilferty).
func TestScatterGate(t *testing.T) {
	for dof, want := range map[float64]float64{1: 1.64, 2: 1.61, 3: 1.55, 4: 1.50, 5: 1.46, 6: 1.43, 7: 1.40, 8: 1.38, 10: 1.34, 19: 1.26} {
		near(t, "gate", chiSquared(governs, dof), want, 0.006)
	}
	near(t, "gate of 40", chiSquared(governs, 40), math.Pow(1-2/360.0+0.8416*math.Sqrt(2/360.0), 3), 0.003)
}

// What a formula may be wrong by adds half its width over √3 (GUM 4.3.7), also where nothing else is uncertain.
func TestModelError(t *testing.T) {
	m := formula(func(in Args, out *Out) error {
		out.Set("f", in.Num("x"))
		out.ModelError("f", 0.3)
		return nil
	})
	near(t, "u", uOf(spreadOf(t, m, num(1), num(0))), 0.3/math.Sqrt(3), 1e-12)
	near(t, "u", uOf(spreadOf(t, m, num(1, Component{U: 0.1}), num(0))), math.Hypot(0.1, 0.3/math.Sqrt(3)), 1e-9)
}

// A circle whose points scatter ten times what is stated: the centre goes by the scatter, and what all points share stays
// as it was stated. By hand: the centre of n points evenly round has u = u_r·√(2/n).
func TestFitAddsWhatIsSharedAfter(t *testing.T) {
	in := func(u float64) map[string]Val {
		var g [][]Num
		for i := range 12 {
			a := float64(i) * math.Pi / 6
			r := 36 + 0.01*math.Cos(3*a)
			us := []Component{{U: u}, {U: 0.5, Shared: "origin"}}
			g = append(g, []Num{{X: r * math.Cos(a), Us: us}, {X: r * math.Sin(a), Us: []Component{{U: u}}}})
		}
		return map[string]Val{"points": {Grid: g}}
	}
	res := mustRun(t, Request{Method: "circle-fit", Inputs: in(0.0007)})
	f, _ := res.Figure("centre_x")
	s := 0.01 * math.Sqrt(6.0/9) // Σ cos² 3a = 6 over ν = 9
	near(t, "u of centre_x", uOf(f), math.Hypot(s*math.Sqrt(2.0/12), 0.5), 1e-4)
	f, _ = res.Figure("centre_y")
	near(t, "u of centre_y", uOf(f), s*math.Sqrt(2.0/12), 1e-4)
	if f.Dof != 9 {
		t.Errorf("%v degrees of freedom, want 9", f.Dof)
	}
}
