package plan

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc"
	"thoud/calc/quantity"
)

// invented is a method with every shape of input.
func invented() []calc.Method {
	length := func(name string, shape calc.Shape) calc.Input {
		return calc.Input{Name: name, Shape: shape, Kind: quantity.Length, Optional: true}
	}
	fields := []calc.Input{
		{Name: "length", Kind: quantity.Length, Positive: true},
		{Name: "thread", Shape: calc.Text, Optional: true},
	}
	return []calc.Method{{
		Name: "invented", Version: 1,
		Inputs: []calc.Input{
			length("one", calc.Scalar), length("many", calc.List), length("grid", calc.Grid),
			{Name: "word", Shape: calc.Text, Enum: []string{"a", "b"}, Optional: true},
			{Name: "words", Shape: calc.TextList, Optional: true},
			{Name: "flag", Shape: calc.Flag, Optional: true},
			{Name: "part", Shape: calc.Record, Fields: fields, Optional: true},
			{Name: "parts", Shape: calc.Records, Fields: fields, Optional: true},
			{Name: "named", Shape: calc.Record, Fields: []calc.Input{{Name: calc.AnyName, Shape: calc.List, Kind: quantity.Number}}, Optional: true},
			{Name: "any", Kind: calc.AnyKind, Optional: true},
		},
		Figures: []calc.Figure{
			{Name: "out", Kind: quantity.Length}, {Name: "outs", Kind: quantity.Length, List: true},
			{Name: "said", Text: true}, {Name: "same", Kind: calc.AnyKind},
		},
	}}
}

const around = `title = "T"
version = 1
cylinders = ["left", "right"]
[engine.len]
value = "9 mm"
source = "measured"
[engine.thr]
word = "M8x1"
source = "measured"
[[step]]
id = "s"
title = "S"
do = "Do."
phase = "dry"
kind = "measure"
capture = { role = "bore" }
[[step.point]]
along = { r = ["1", "2"], c = ["a", "b"] }
id = "g.{r}.{c}"
[[step.point]]
id = "p"
[step.compute]
method = "invented"
[step.compute.inputs]
`

// refs takes references apart that are known to be sound.
func refs(texts ...string) []Ref {
	var out []Ref
	for _, s := range texts {
		r, err := ParseRef(s)
		if err != nil {
			panic(err)
		}
		out = append(out, r)
	}
	return out
}

func TestBindings(t *testing.T) {
	mm := func(x float64) calc.Num { return calc.Num{X: x} }
	yes := true
	for _, c := range []struct {
		toml string
		want Binding
	}{
		{`one = "1 in"`, Binding{Const: &calc.Val{Num: &calc.Num{X: 25.4}}}},
		{`one = { value = "1 mm", u = "0.01 mm" }`, Binding{Const: &calc.Val{Num: &calc.Num{X: 1, Us: []calc.Component{{Name: "stated", U: 0.01}}}}}},
		{`one = "@reading:p"`, Binding{Refs: refs("@reading:p")}},
		{`one = "@reading:p?"`, Binding{Refs: refs("@reading:p"), Optional: true}},
		{`many = ["1 mm", "2 mm"]`, Binding{Const: &calc.Val{List: []calc.Num{mm(1), mm(2)}}}},
		{`many = ["@reading:p", "@engine.len"]`, Binding{Refs: refs("@reading:p", "@engine.len"), Many: true}},
		{`many = "@readings:g.1.*"`, Binding{Refs: refs("@readings:g.1.*")}},
		{`grid = "@readings:g.*.*"`, Binding{Refs: refs("@readings:g.*.*")}},
		{`grid = [["1 mm"], ["2 mm"]]`, Binding{Const: &calc.Val{Grid: [][]calc.Num{{mm(1)}, {mm(2)}}}}},
		{`word = "b"`, Binding{Const: &calc.Val{Text: "b"}}},
		{`word = "@engine.thr"`, Binding{Refs: refs("@engine.thr")}},
		{`words = ["x", "y"]`, Binding{Const: &calc.Val{Texts: []string{"x", "y"}}}},
		{`flag = true`, Binding{Const: &calc.Val{Flag: &yes}}},
		{`part = { length = "3 mm" }`, Binding{Const: &calc.Val{Rec: map[string]calc.Val{"length": {Num: &calc.Num{X: 3}}}}}},
		{`part = { length = "@engine.len", thread = "M8" }`, Binding{Rec: map[string]Binding{"length": {Refs: refs("@engine.len")}, "thread": {Const: &calc.Val{Text: "M8"}}}}},
		{`parts = [{ length = "@engine.len" }, { length = "2 mm" }]`, Binding{Recs: []map[string]Binding{{"length": {Refs: refs("@engine.len")}}, {"length": {Const: &calc.Val{Num: &calc.Num{X: 2}}}}}}},
		{`named = { a = [1, 2] }`, Binding{Const: &calc.Val{Rec: map[string]calc.Val{"a": {List: []calc.Num{mm(1), mm(2)}}}}}},
		{`any = "2 N"`, Binding{Const: &calc.Val{Num: &calc.Num{X: 2}}}},
		{`any = "@reading:p"`, Binding{Refs: refs("@reading:p")}},
	} {
		p, err := parse([]byte(around+c.toml), invented(), &faults{file: "t"})
		if err != nil {
			t.Errorf("%s\n%v", c.toml, err)
			continue
		}
		key, _, _ := strings.Cut(c.toml, " ")
		if d := cmp.Diff(c.want, p.Steps[0].Compute.Inputs[key]); d != "" {
			t.Errorf("%s (-want +got)\n%s", c.toml, d)
		}
	}
}

func TestBindingFaults(t *testing.T) {
	for toml, want := range map[string]string{
		`one = ["1 mm"]`:                             `one is a list, want a text`,
		`one = ["@reading:p"]`:                       `one wants one length, not a list of references`,
		`one = "@readings:g.1.*"`:                    `gives a list of quantities (length), want one length`,
		`one = "@readings:g.*.*"`:                    `gives a list of lists of quantities (length), want one length`,
		`many = "1 mm"`:                              `many is a text, want a list`,
		`many = []`:                                  `many is an empty list`,
		`many = ["@reading:p", "1 mm"]`:              `many mixes references and constants`,
		`grid = "@readings:g.1.*"`:                   `want a list of lists of quantities (length)`,
		`word = "c"`:                                 `word is "c", want one of: a b`,
		`flag = "true"`:                              `flag is a text, want true or false`,
		`part = { length = "3 mm", width = "1 mm" }`: `part has no input "width"; it has length, thread`,
		`part = { thread = "M8" }`:                   `part needs the input length`,
		`part = [{ length = "@engine.len" }]`:        `part wants a table, not a list of references`,
		`parts = [{ length = "@engine.thr" }]`:       `input length: "@engine.thr" gives a word, want one length`,
		`parts = [{ length = "-1 mm" }]`:             `length is -1 mm, want more than nothing`,
		`one = { value = "1 mm", u = "-1 mm" }`:      `a standard uncertainty is not negative`,
		`one = { value = "1 mm", k = 2 }`:            `unknown key "k"; known here: u, value`,
		`many = "@angles:g.1.*"`:                     `point "g.1.a" has no angle`,
		`many = "@depths:g.1.*"`:                     `point "g.1.a" has no depth`,
		`many = "@samples.value:p"`:                  `step "s" takes no trace there`,
		`one = "@reading"`:                           `must name the point`,
		`one = "@figure:s.out"`:                      `a circle of steps that wait for each other: s → s`,
		"one = \"@reading:p\"\n[step.compute.limits]\nsaid = { upper = \"1 mm\" }":                `said is no quantity; it has no limits`,
		"one = \"@reading:p\"\n[step.compute.limits]\nsame = { upper = \"1 N\", source = \"x\" }": `"N" is not a unit that fits: a unit of force, want length`,
	} {
		_, err := parse([]byte(around+toml), invented(), &faults{file: "t"})
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s\n got %v\nwant %s", toml, err, want)
		}
	}
}

func TestKindsAreAllKinds(t *testing.T) {
	for _, u := range quantity.Units() {
		found := false
		for _, k := range kinds {
			found = found || k == u.Kind
		}
		if !found {
			t.Errorf("kind %s can't be named in a plan", u.Kind)
		}
	}
}
