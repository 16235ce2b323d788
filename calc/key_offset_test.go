package calc

import "testing"

// A key is filed and measured to half a thou (common practice): what asks for less is left as it is, and its figures keep their digits.
func TestAKeyTooSmallToFileIsNoOrder(t *testing.T) {
	for _, row := range []struct {
		degrees float64
		leave   bool
	}{{0.04, true}, {-0.04, true}, {1, false}} {
		res, err := Run(Request{Method: "key-offset", Inputs: map[string]Val{"shaft_diameter": {Num: &Num{X: 22}}, "correction_crank": {Num: &Num{X: row.degrees}}, "shaft": {Text: "camshaft"}}})
		if err != nil {
			t.Fatal(err)
		}
		if a := res.Adjustment[0]; a.Leaves() != row.leave || a.Target == row.leave || a.Direction == "none" {
			t.Errorf("%g° of crank on a shaft of 22 mm: %+v", row.degrees, a)
		}
	}
}
