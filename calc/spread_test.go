package calc

import (
	"math"
	"testing"

	"thoud/calc/quantity"
)

// Range, least and greatest of values written by hand (definition), and U of a difference of two independent values,
// √(u₁² + u₂²) (JCGM 100, 5.1.2).
func TestSpread(t *testing.T) {
	num := func(x float64) Num { return Num{X: x, Us: []Component{{Name: "stated", U: 0.003}}} }
	res, err := Run(Request{Method: "spread", Kind: quantity.Length, Inputs: map[string]Val{"values": {List: []Num{num(0.02), num(0.05), num(0.03)}}}})
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	f, _ := res.Figure("range")
	if math.Abs(*f.Value-0.03) > 1e-12 || math.Abs(f.U/f.K-0.003*math.Sqrt2) > 1e-9 {
		t.Errorf("range %g, u %g", *f.Value, f.U/f.K)
	}
	if at, _ := res.Figure("greatest_at"); *at.Value != 2 {
		t.Errorf("greatest at %g", *at.Value)
	}
	if res, err = Run(Request{Method: "spread", Kind: quantity.Length, Inputs: map[string]Val{"values": {List: []Num{num(1)}}}}); err != nil || res.Refused == "" {
		t.Errorf("one value: %v, %q", err, res.Refused)
	}
}
