package calc

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

// given is inputs in plain Go: a float64 is a scalar, []float64 a list, a map an object, []given objects.
type given map[string]any

func (g given) vals() map[string]Val {
	out := map[string]Val{}
	for name, x := range g {
		switch x := x.(type) {
		case float64:
			out[name] = Val{Num: &Num{X: x}}
		case int:
			out[name] = Val{Num: &Num{X: float64(x)}}
		case Num:
			out[name] = Val{Num: &x}
		case []float64:
			v := Val{List: []Num{}}
			for _, y := range x {
				v.List = append(v.List, Num{X: y})
			}
			out[name] = v
		case string:
			out[name] = Val{Text: x}
		case given:
			out[name] = Val{Rec: x.vals()}
		case []given:
			v := Val{Recs: []map[string]Val{}}
			for _, r := range x {
				v.Recs = append(v.Recs, r.vals())
			}
			out[name] = v
		default:
			panic(fmt.Sprintf("%s: %T is not understood by this test", name, x))
		}
	}
	return out
}

// with gives a copy with one input changed.
func (g given) with(name string, x any) given {
	out := given{}
	for k, v := range g {
		out[k] = v
	}
	out[name] = x
	return out
}

// outOf checks the inputs and computes, as Run does, and gives what the method found, without uncertainty and words.
func outOf(method string, in given) (*Out, error) {
	m, ok := Find(method)
	if !ok {
		return nil, fmt.Errorf("no method %s", method)
	}
	req := Request{Method: method, Inputs: in.vals()}
	if err := m.Check(req); err != nil {
		return nil, err
	}
	return compute(&m, req.Inputs)
}

func figuresOf(tb testing.TB, method string, in given) *Out {
	tb.Helper()
	out, err := outOf(method, in)
	if err != nil {
		tb.Fatalf("%s: %v", method, err)
	}
	return out
}

// figureNear fails unless a figure is within tol of want.
func figureNear(tb testing.TB, out *Out, figure string, want, tol float64) {
	tb.Helper()
	got, ok := out.nums[figure]
	if !ok || !(math.Abs(got-want) <= tol) {
		tb.Errorf("%s = %.8g (set %v), want %.8g ± %g", figure, got, ok, want, tol)
	}
}

// refused fails unless the method refuses, or finds the input malformed, and names the field.
func refused(tb testing.TB, method string, in given, field string) {
	tb.Helper()
	_, err := outOf(method, in)
	var bad *InputError
	if errors.As(err, &bad) && bad.Field == field && bad.Want != "" {
		return
	}
	var r *Refusal
	if !errors.As(err, &r) {
		tb.Errorf("%s %v: got %v, want a refusal of %s", method, in, err, field)
		return
	}
	if r.What != field || r.Why == "" || r.Do == "" {
		tb.Errorf("%s: refused %q (%q; %q), want %q with why and what to do", method, r.What, r.Why, r.Do, field)
	}
}

// mils turns thousandths of an inch into mm.
func mils(thou ...float64) []float64 {
	out := make([]float64, len(thou))
	for i, x := range thou {
		out[i] = x * 25.4 / 1000
	}
	return out
}
