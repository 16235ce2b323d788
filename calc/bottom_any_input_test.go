package calc

import (
	"errors"
	"strings"
	"testing"

	"thoud/calc/quantity"

	"pgregory.net/rapid"
)

// anyVal draws a value of the declared shape: now plausible, now zero, negative, tiny or huge.
func anyVal(t *rapid.T, in Input, label string) Val {
	num := func() Num {
		x := rapid.OneOf(
			rapid.Float64Range(0, 100), rapid.Float64Range(-5, 5), rapid.SampledFrom([]float64{0, 1, 2, 118, 245, 1e-12, 1e12, -1e12, 206000}),
		).Draw(t, label)
		if in.Positive && x <= 0 {
			x = 1 - x
		}
		if in.Kind == quantity.Number && rapid.Bool().Draw(t, label+" share") {
			x = rapid.Float64Range(0.05, 1).Draw(t, label)
		}
		n := Num{X: x}
		if in.Shape == Scalar && rapid.IntRange(0, 3).Draw(t, label+" u?") == 0 {
			n.Us = []Component{{Name: "reading", U: 0.01}}
		}
		return n
	}
	switch in.Shape {
	case Scalar:
		n := num()
		return Val{Num: &n}
	case List:
		v := Val{List: []Num{num()}}
		for range rapid.SampledFrom([]int{11, 11, 11, 0, 1, 5, 12}).Draw(t, label+" n") {
			v.List = append(v.List, num())
		}
		if in.Kind == quantity.Angle && rapid.IntRange(0, 3).Draw(t, label+" even") > 0 {
			for i := range v.List {
				v.List[i].X = float64(i) * 30
			}
		}
		return v
	case Text:
		if len(in.Enum) > 0 {
			return Val{Text: rapid.SampledFrom(in.Enum).Draw(t, label)}
		}
		return Val{Text: rapid.SampledFrom([]string{"M8", "M10x1.25", "1/4-26 BSC", "1/4-20", "?"}).Draw(t, label)}
	case Flag:
		yes := rapid.Bool().Draw(t, label)
		return Val{Flag: &yes}
	case Record:
		return Val{Rec: anyVals(t, in.Fields, nil, label+".")}
	case Records:
		v := Val{}
		for range rapid.IntRange(1, 3).Draw(t, label+" n") {
			v.Recs = append(v.Recs, anyVals(t, in.Fields, nil, label+"."))
		}
		return v
	}
	t.Fatalf("%s: shape %v is not drawn here", label, in.Shape)
	return Val{}
}

// anyVals draws inputs; where good ones are known they are kept seven times out of eight.
func anyVals(t *rapid.T, inputs []Input, good map[string]Val, path string) map[string]Val {
	out := map[string]Val{}
	for _, in := range inputs {
		v, known := good[in.Name]
		switch keep := rapid.IntRange(0, 15).Draw(t, path+in.Name+" keep"); {
		case known && keep < 14:
			out[in.Name] = v
		case !in.Optional || good == nil && keep < 8 || keep == 15:
			out[in.Name] = anyVal(t, in, path+in.Name)
		}
	}
	return out
}

// Whatever well-formed numbers come in, these methods answer with finite figures or refuse with a reason and a way
// out; they do not panic, and they call no well-formed input malformed.
func TestBottomEndMethodsAnswerOrRefuse(t *testing.T) {
	for name, good := range map[string]given{
		"runout":          {"angle": eighths(), "reading": []float64{0, 1, 2, 3, 4, 3, 2, 1}},
		"end-float":       {"push": 0.0, "pull": 0.9, "wanted": 0.2, "shims": []float64{0.2, 0.3, 0.5}},
		"shim-stack":      {"gap": 0.9, "wanted": 0.2, "shims": []float64{0.2, 0.3, 0.5}},
		"shim-both-sides": {"gap_left": 0.9, "gap_right": 1.0, "wanted": 0.2, "shims": []float64{0.2, 0.3, 0.5}},
		"thread":          {"thread": "1/4-26 BSC"},
		"bolt-preload":    {"modulus": 206000.0, "segments": plainStud(), "stretch": 0.24},
		"bolt-angle":      {"modulus": 206000.0, "segments": plainStud(), "clamped": given{"length": 150.0, "modulus": 72000.0, "area": 900.0}, "pitch": 1.25, "angle": 60.0},
		"bolt-torque":     {"thread": "M10x1.25", "preload": 25000.0, "mu_thread": 0.12, "mu_face": 0.12, "face_outer": 14.63, "face_inner": 11.0},
		"bolt-heat": {"modulus": 206000.0, "segments": plainStud(), "cold_preload": 25000.0, "bolt": given{"alpha": 11.5e-6, "rise": 80.0},
			"clamped": given{"length": 150.0, "modulus": 72000.0, "area": 900.0, "alpha": 21e-6, "rise": 120.0}},
		"chain-slack":     rearChain().with("min_slack", 20.0),
		"deck-height":     {"reading_1": 0.62, "arm_1": -30.0, "reading_2": 0.38, "arm_2": 30.0},
		"compression":     twin().with("ratio_wanted", 10.0).with("rod", 160.0).with("inlet_closing", 245.0).with("plates", []float64{0.2, 0.5}),
		"balance":         crankMasses().with("hung", 390.0).with("factor_wanted", 0.62).with("crank_radius", 40.0).with("hole_radius", 52.0).with("holes", 4).with("drill", 12.0).with("density", 7.85),
		"rod-weigh":       {"small": 141.6, "big": 318.7, "total": 460.0},
		"rocker-geometry": {"valve_arm": 38.0, "pushrod_arm": 32.0, "lift": 9.4, "closed_angle": 3.0},
	} {
		t.Run(name, func(t *testing.T) {
			m, ok := Find(name)
			if !ok {
				t.Fatal("no such method")
			}
			rapid.Check(t, func(t *rapid.T) { answersOrRefuses(t, m, anyVals(t, m.Inputs, good.vals(), "")) })
			if res, err := Run(Request{Method: name, Inputs: good.vals()}); err != nil || res.Refused != "" {
				t.Errorf("good inputs: %v %s", err, res.Refused)
			}
		})
	}
}

func answersOrRefuses(t *rapid.T, m Method, vals map[string]Val) {
	out := &Out{method: &m, nums: map[string]float64{}}
	if err := m.Compute(Args{m.Inputs, vals}, out); err != nil { // a panic in here fails the test
		var r *Refusal
		if !errors.As(err, &r) || r.What == "" || r.Why == "" || r.Do == "" {
			t.Fatalf("%v is no refusal with field, reason and way out", err)
		}
		return
	}
	res, err := Run(Request{Method: m.Name, Inputs: vals})
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range res.Adjustment {
		if strings.ContainsAny(a.Words.MM+a.Words.Inch, "{}?") {
			t.Fatalf("words with a hole: %q", a.Words.MM)
		}
	}
}
