package view

import (
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// lashRow is the row of a lash that was found, in inches: adjuster of 26 threads an inch (BS 811), six flats.
func lashRow(t *testing.T, found string) Row {
	t.Helper()
	num := func(s string) calc.Val {
		v, err := quantity.Parse(s)
		if err != nil {
			t.Fatal(err)
		}
		x := v.Float()
		return calc.Val{Num: &calc.Num{X: x}}
	}
	req := calc.Request{Method: "valve-lash", Inputs: map[string]calc.Val{"lash": num(found), "target": num("0.004 in"), "pitch": num("26 tpi")}}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	w := &work{b: &bench.Build{}, v: &View{}, st: &bench.StepState{}, step: plan.Step{Compute: &plan.Compute{Shown: []string{"flats"}}}}
	return w.row(bench.Result{Key: "left", Result: res, Request: req})
}

// TestLashIsToldAsAHandTurns: half a flat is an order, though it has no digit; a twentieth of one is to be left. Half a flat at 26
// threads an inch is 1/26/12 = 0.0032 in.
func TestLashIsToldAsAHandTurns(t *testing.T) {
	if row := lashRow(t, "0.0072 in"); row.Order == nil || row.Order.Large.Inch != "half a flat" || row.Leave {
		t.Errorf("half a flat: %+v", row)
	}
	if row := lashRow(t, "0.0043 in"); row.Order != nil || !row.Leave {
		t.Errorf("a twentieth of a flat: %+v", row)
	}
}
