package calc

import (
	"errors"
	"math"
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
		if rapid.IntRange(0, 3).Draw(t, label+" u?") == 0 {
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
		if rapid.IntRange(0, 3).Draw(t, label+" small") > 0 {
			for i := range v.List {
				v.List[i].X = 0.001 + math.Mod(math.Abs(v.List[i].X), 40)
			}
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
	case Record:
		return Val{Rec: anyVals(t, in.Fields, label+".")}
	case Records:
		v := Val{}
		for range rapid.IntRange(1, 3).Draw(t, label+" n") {
			v.Recs = append(v.Recs, anyVals(t, in.Fields, label+"."))
		}
		return v
	}
	t.Fatalf("%s: shape %v is not drawn here", label, in.Shape)
	return Val{}
}

func anyVals(t *rapid.T, inputs []Input, path string) map[string]Val {
	out := map[string]Val{}
	for _, in := range inputs {
		if !in.Optional || rapid.Bool().Draw(t, path+in.Name+"?") {
			out[in.Name] = anyVal(t, in, path+in.Name)
		}
	}
	return out
}

// Whatever well-formed numbers come in, these methods answer with finite figures or refuse with a reason and a way
// out; they do not panic, and they call no well-formed input malformed.
func TestBottomEndMethodsAnswerOrRefuse(t *testing.T) {
	for _, name := range []string{
		"runout", "end-float", "shim-stack", "shim-both-sides", "thread", "bolt-preload", "bolt-angle", "bolt-torque", "bolt-heat",
		"chain-slack", "deck-height", "compression", "balance", "rod-weigh", "rocker-geometry",
	} {
		t.Run(name, func(t *testing.T) {
			m, ok := Find(name)
			if !ok {
				t.Fatal("no such method")
			}
			answered := 0
			rapid.Check(t, func(t *rapid.T) {
				vals := anyVals(t, m.Inputs, "")
				out := &Out{method: &m, nums: map[string]float64{}}
				if err := m.Compute(Args{m.Inputs, vals}, out); err != nil { // a panic in here fails the test
					var r *Refusal
					if !errors.As(err, &r) || r.What == "" || r.Why == "" || r.Do == "" {
						t.Fatalf("%v is no refusal with field, reason and way out", err)
					}
					return
				}
				res, err := Run(Request{Method: name, Inputs: vals})
				if err != nil {
					t.Fatal(err)
				}
				for _, a := range res.Adjustment {
					if strings.ContainsAny(a.Words.MM+a.Words.Inch, "{}?") {
						t.Fatalf("words with a hole: %q", a.Words.MM)
					}
				}
				answered++
			})
			if answered == 0 {
				t.Error("never answered: the inputs drawn are not good enough to test anything")
			}
		})
	}
}
