package calc

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// A request goes by the sum over how it is stored, so what is written of any request must be what json.Marshal (Go's standard
// library) writes, to the last byte; and it is read back as encoding/json reads it.
func TestARequestIsWrittenAndReadAsTheStandardLibraryDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		holdRequest(t, drawRequest(t))
	})
	for _, req := range []Request{
		{},
		{Method: "m", Inputs: map[string]Val{}},
		{Method: "m", Inputs: map[string]Val{"x": {Rec: map[string]Val{}, Recs: []map[string]Val{nil, {}}, Grid: [][]Num{nil, {}}, Cube: [][][]Num{nil}}}},
		{Method: "m", Guard: math.Copysign(0, -1)},
	} {
		holdRequest(t, req)
	}
	shared := []Component{{Name: "one", U: 0.5, Shared: "k"}, {Name: "<two>", Dof: 3}}
	holdRequest(t, Request{Inputs: map[string]Val{"a": {List: []Num{{X: 1, Us: shared}, {X: 2, Us: shared}, {X: 3, Us: shared[:1]}, {X: 4, Us: shared}}}}})
	for _, x := range []float64{math.NaN(), math.Inf(1)} {
		if b, err := (Request{Method: "m", Inputs: map[string]Val{"x": {Num: &Num{X: x}}}}).AppendJSON(nil); err == nil {
			t.Errorf("%g was written: %s", x, b)
		}
	}
}

// Every field that a request has is written, also one that came in after the writer was made.
func TestEveryFieldOfARequestIsWritten(t *testing.T) {
	var req Request
	n := 0
	var fill func(v reflect.Value, deep int)
	fill = func(v reflect.Value, deep int) {
		n++
		switch v.Kind() {
		case reflect.String:
			v.SetString(fmt.Sprintf("text %d", n))
		case reflect.Float64:
			v.SetFloat(float64(n) / 7)
		case reflect.Int, reflect.Int64:
			v.SetInt(int64(n))
		case reflect.Bool:
			v.SetBool(true)
		case reflect.Pointer:
			v.Set(reflect.New(v.Type().Elem()))
			fill(v.Elem(), deep)
		case reflect.Slice:
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fill(v.Index(0), deep)
		case reflect.Map:
			v.Set(reflect.MakeMap(v.Type()))
			if deep < 2 { // a record holds values
				value := reflect.New(v.Type().Elem()).Elem()
				fill(value, deep+1)
				v.SetMapIndex(reflect.ValueOf("key").Convert(v.Type().Key()), value)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				fill(v.Field(i), deep)
			}
		default:
			t.Fatalf("no value for %s", v.Type())
		}
	}
	fill(reflect.ValueOf(&req).Elem(), 0)
	holdRequest(t, req)
}

type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

func holdRequest(t failer, req Request) {
	t.Helper()
	want, err := json.Marshal(req)
	if err != nil {
		t.Fatalf("%v", err)
	}
	got, err := req.AppendJSON([]byte("before"))
	if err != nil || string(got) != "before"+string(want) {
		t.Fatalf("written %s, %v\njson.Marshal %s", got, err, want)
	}
	var by Request
	if err := json.Unmarshal(want, &by); err != nil {
		t.Fatalf("%v", err)
	}
	if back, err := DecodeRequest(want); err != nil || !reflect.DeepEqual(back, by) {
		t.Fatalf("%s\nread as %+v, %v\nby encoding/json %+v", want, back, err, by)
	}
	if back, err := DecodeRequest(append(want, ' ')); err != nil || !reflect.DeepEqual(back, by) {
		t.Fatalf("%s with a blank behind it: %+v, %v", want, back, err)
	}
}

func drawRequest(t *rapid.T) Request {
	some := func() bool { return rapid.Bool().Draw(t, "some") }
	text := func() string {
		return rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", "resolution", "a<b>&", "µ\u2028"})).Draw(t, "text")
	}
	x := func() float64 {
		return rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, 0.0254, 1e-7, 1e22, -3})).Draw(t, "x")
	}
	var us []Component
	num := func() Num {
		if len(us) == 0 || some() {
			us = nil
			for range rapid.IntRange(0, 3).Draw(t, "us") {
				us = append(us, Component{Name: text(), U: x(), Dof: x(), Shared: text()})
			}
		}
		return Num{X: x(), Us: us}
	}
	row := func() (out []Num) {
		for range rapid.IntRange(0, 3).Draw(t, "row") {
			out = append(out, num())
		}
		return out
	}
	texts := func() (out []string) {
		for range rapid.IntRange(0, 2).Draw(t, "texts") {
			out = append(out, text())
		}
		return out
	}
	var val func(deep int) Val
	rec := func(deep int) map[string]Val {
		out := map[string]Val{}
		for range rapid.IntRange(0, 2).Draw(t, "rec") {
			out[text()] = val(deep + 1)
		}
		return out
	}
	val = func(deep int) Val {
		v := Val{List: row(), Text: text(), Texts: texts()}
		if some() {
			n := num()
			v.Num = &n
		}
		if some() {
			v.Grid, v.Cube = [][]Num{row(), row()}, [][][]Num{{row()}, {}}
		}
		if some() {
			is := some()
			v.Flag = &is
		}
		if deep < 2 && some() {
			v.Rec, v.Recs = rec(deep), []map[string]Val{rec(deep), nil}
		}
		return v
	}
	req := Request{Method: text(), Kind: "angle", Guard: x(), Level: x(), Told: text(), GaugeOnly: some(), Digits: x(), Common: texts(), Inputs: map[string]Val{}}
	for range rapid.IntRange(0, 3).Draw(t, "inputs") {
		req.Inputs[text()] = val(0)
	}
	if some() {
		low := x()
		req.Limits = map[string]Limit{text(): {Lower: &low, Source: text()}, text(): {Upper: &low}}
		req.Words = map[string]string{text(): text(), text(): text()}
	}
	return req
}
