package calc

import (
	"encoding/json"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

// drawVals is inputs of the declared shapes with numbers from anywhere: likely sizes, zeros, ties, absurdities.
func drawVals(t *rapid.T, inputs []Input) map[string]Val {
	vals := map[string]Val{}
	for _, in := range inputs {
		if in.Optional && rapid.Bool().Draw(t, in.Name+" left out") {
			continue
		}
		if in.Name == AnyName {
			for _, name := range []string{"a", "b", "c"} {
				vals[name] = drawVal(t, in)
			}
			continue
		}
		vals[in.Name] = drawVal(t, in)
	}
	return vals
}

func drawVal(t *rapid.T, in Input) Val {
	numbers := func(n int) []Num {
		var out []Num
		for range n {
			out = append(out, drawNum(t, in))
		}
		return out
	}
	count := rapid.SampledFrom([]int{1, 2, 3, 4, 8, 15}).Draw(t, in.Name+" count")
	grid := func(rows int) [][]Num {
		var g [][]Num
		cols := rapid.IntRange(1, 4).Draw(t, in.Name+" columns")
		for range rows {
			g = append(g, numbers(cols))
		}
		return g
	}
	switch in.Shape {
	case List:
		return Val{List: numbers(count)}
	case Grid:
		return Val{Grid: grid(count)}
	case Cube:
		return Val{Cube: [][][]Num{grid(2), grid(2), grid(2)}}
	case Text:
		words := in.Enum
		if len(words) == 0 {
			words = []string{"M10x1.25", "5/16-24 UNF", "1/4-26 BSC", "IT7", "M8", "nothing", "½"}
		}
		return Val{Text: rapid.SampledFrom(words).Draw(t, in.Name)}
	case TextList:
		return Val{Texts: []string{rapid.SampledFrom(append([]string{"x"}, in.Enum...)).Draw(t, in.Name)}}
	case Flag:
		b := rapid.Bool().Draw(t, in.Name)
		return Val{Flag: &b}
	case Record:
		return Val{Rec: drawVals(t, in.Fields)}
	case Records:
		v := Val{}
		for range rapid.IntRange(1, 4).Draw(t, in.Name+" count") {
			v.Recs = append(v.Recs, drawVals(t, in.Fields))
		}
		return v
	}
	n := drawNum(t, in)
	return Val{Num: &n}
}

func drawNum(t *rapid.T, in Input) Num {
	var x float64
	switch rapid.IntRange(0, 5).Draw(t, in.Name+" sort") {
	case 0:
		x = rapid.SampledFrom([]float64{0, 1, -1, 90, 180, 360, 720, 1e-9, 1e9, -1e9, 1e300, 1e-300}).Draw(t, in.Name)
	case 1:
		x = float64(rapid.IntRange(-10, 10).Draw(t, in.Name))
	default:
		top := 100.0
		switch in.Kind {
		case quantity.Angle:
			top = 720
		case quantity.Expansion:
			top = 3e-5
		case quantity.Stress:
			top = 3e5
		}
		x = rapid.Float64Range(0, top).Draw(t, in.Name)
	}
	n := Num{X: x}
	if rapid.IntRange(0, 3).Draw(t, in.Name+" with u") == 0 {
		n.Us = []Component{{U: rapid.Float64Range(0, 1).Draw(t, in.Name+" u"), Dof: float64(rapid.IntRange(0, 9).Draw(t, in.Name+" dof")), Shared: rapid.SampledFrom([]string{"", "", "zero"}).Draw(t, in.Name+" shared")}}
	}
	return n
}

// Whatever the numbers: a method answers or refuses in words. It never fails inside, never answers with what is no
// number, and leaves no placeholder in its sentences.
func TestAnyInputIsAnsweredOrRefused(t *testing.T) {
	for _, m := range Methods() {
		t.Run(m.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				req := Request{Method: m.Name, Inputs: drawVals(t, m.Inputs), Kind: quantity.Length, Digits: rapid.SampledFrom([]float64{0, 0.001}).Draw(t, "digits")}
				res, err := Run(req)
				if err != nil {
					return
				}
				if strings.Contains(res.Refused, "the computation failed") {
					t.Fatal(res.Refused)
				}
				writesWell(t, res)
			})
		})
	}
}

// writesWell fails unless a result is JSON with numbers in it, and its sentences are whole.
func writesWell(t *rapid.T, res Result) {
	t.Helper()
	for _, sys := range []quantity.System{quantity.Metric, quantity.Inch} {
		if b := WriteForm(res, sys); !json.Valid(b) || strings.Contains(string(b), ": null") {
			t.Fatalf("not JSON, or no number in it: %s", b)
		}
	}
	for _, a := range res.Adjustment {
		for _, s := range []string{a.Words.MM, a.Words.Inch} {
			if strings.ContainsAny(s, "{}?") || strings.TrimSpace(s) == "" || strings.Contains(s, "%!") {
				t.Fatalf("words %q", s)
			}
		}
	}
	for _, s := range append(res.Warnings, res.Refused) {
		if strings.Contains(s, "%!") {
			t.Fatalf("words %q", s)
		}
	}
}

// The same reading in inches and in millimetres gives the same figures.
func TestUnitsDoNotMatter(t *testing.T) {
	pairs := map[string][2]string{
		"contact-clearance": {`{"protrusion": "0.212 in", "clearance": "0.050 in", "side": "outside", "now": "0.240 in"}`, `{"protrusion": "5.3848 mm", "clearance": "1.27 mm", "side": "outside", "now": "6.096 mm"}`},
		"indicator-travel":  {`{"reading": {"value": 12, "unit": "[mil_i]", "u": 1}, "zero": "0.002 in", "misalignment": "5 deg"}`, `{"reading": {"value": 0.3048, "unit": "mm", "u": 0.0254}, "zero": "0.0508 mm", "misalignment": "5 deg"}`},
		"cone-seat":         {`{"seat_drill": "1/4 in", "seat_depth": "1/8 in", "pilot_drill": "1/8 in", "pilot_depth": "3/16 in", "screw_diameter": "1/4 in"}`, `{"seat_drill": "6.35 mm", "seat_depth": "3.175 mm", "pilot_drill": "3175 um", "pilot_depth": "4.7625 mm", "screw_diameter": "6.35 mm"}`},
		"running-fit":       {`{"hole": {"value": 0.75, "unit": "in", "U": 0.0001, "k": 2}, "shaft": "0.7488 in"}`, `{"hole": {"value": 19.05, "unit": "mm", "U": 0.00254, "k": 2}, "shaft": "19.01952 mm"}`},
		"statistics":        {`{"values": ["0.5 in", "0.501 in", "0.4995 in"]}`, `{"values": {"value": [12.7, 12.7254, 12.6873], "unit": "mm"}}`},
		"decide":            {`{"value": "0.5005 in", "U": "0.0005 in", "upper": "0.501 in"}`, `{"value": "12.7127 mm", "U": "12.7 um", "upper": "12.7254 mm"}`},
	}
	for method, forms := range pairs {
		m, _ := Find(method)
		var out [2]Result
		for i, form := range forms {
			req, err := ReadForm(m, []byte(form))
			if err != nil {
				t.Fatalf("%s: %v", method, err)
			}
			out[i] = mustRun(t, req)
		}
		for _, f := range out[0].Figures {
			g, ok := out[1].Figure(f.Name)
			if !ok {
				t.Errorf("%s %s is missing in millimetres", method, f.Name)
				continue
			}
			if f.Value != nil {
				near(t, method+" "+f.Name, *f.Value, *g.Value, 1e-9)
				near(t, method+" U of "+f.Name, f.U, g.U, 1e-9)
			}
			if strings.Join(f.Text, " ") != strings.Join(g.Text, " ") {
				t.Errorf("%s %s: %q and %q", method, f.Name, f.Text, g.Text)
			}
		}
	}
}

// The order of the values matters to their drift alone.
func TestStatisticsPermutation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1000, 1000), 2, 30).Draw(t, "x")
		y := rapid.Permutation(x).Draw(t, "y")
		a, b := summarise(x), summarise(y)
		for _, p := range [][2]float64{{a.mean, b.mean}, {a.sd, b.sd}, {a.least, b.least}, {a.greatest, b.greatest}} {
			near(t, "figure", p[0], p[1], 1e-9)
		}
	})
}
