package calc

import (
	"testing"

	"thoud/calc/quantity"
)

// boreMapOf60 is a bore map of 15 depths by 4 axes, each reading with its own uncertainty and that of the setting ring.
func boreMapOf60() Request {
	u := func(x float64) Num {
		return Num{X: x, Us: []Component{{U: 0.0005, Dof: 9}, {U: 0.0007, Dof: 50, Shared: "ring"}}}
	}
	var depths, axes Val
	var diameters Val
	for i := range 15 {
		depths.List = append(depths.List, Num{X: 5 + 5*float64(i)})
		var row []Num
		for j := range 4 {
			row = append(row, u(72.04+0.001*float64((i*7+j*5)%11)))
		}
		diameters.Grid = append(diameters.Grid, row)
	}
	for j := range 4 {
		axes.List = append(axes.List, Num{X: 45 * float64(j)})
	}
	return Request{Method: "bore-map", Inputs: map[string]Val{"depths": depths, "axes": axes, "diameters": diameters}}
}

func BenchmarkUncertaintyBoreMap60(b *testing.B) {
	req := boreMapOf60()
	b.ReportAllocs()
	for b.Loop() {
		if res := mustRun(b, req); res.Figures[0].ULists == nil {
			b.Fatal("no uncertainty")
		}
	}
}

func BenchmarkDecide(b *testing.B) {
	l := Limit{Lower: ptr(72.04), Upper: ptr(72.06)}
	b.ReportAllocs()
	for b.Loop() {
		if Decide(quantity.Length, 72.0575, 0.003, l, 1) != VerdictTooClose {
			b.Fatal("another verdict")
		}
	}
}

func BenchmarkReadForm(b *testing.B) {
	form := []byte(`{"protrusion": {"value": 0.212, "unit": "[in_i]", "u": 0.0002}, "clearance": "0.050 in", "side": "outside", "now": "0.240 in"}`)
	m := contactClearance()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadForm(m, form); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRunContactClearance(b *testing.B) {
	req := Request{Method: "contact-clearance", Inputs: map[string]Val{"protrusion": {List: []Num{{X: 5, Us: []Component{{U: 0.01}}}}}, "clearance": num(1.27), "now": num(6, Component{U: 0.01})}}
	b.ReportAllocs()
	for b.Loop() {
		mustRun(b, req)
	}
}
