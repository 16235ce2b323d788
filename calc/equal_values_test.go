package calc

import (
	"math"
	"testing"
)

// Two equal values with an uncertainty differ by nothing, give or take √2 of it; their mean has 1/√2 of it. JCGM 100:2008,
// 5.1.2, from memory, not verified. A figure that appears only beside the value (two equal values have no lag) must not
// keep the uncertainty of the others from being carried.
func TestEqualValuesKeepTheirUncertainty(t *testing.T) {
	req, err := ReadForm(statistics(), []byte(`{"values":[{"value":5,"unit":"deg","u":0.1},{"value":5,"unit":"deg","u":0.1}]}`))
	if err != nil {
		t.Fatal(err)
	}
	res, err := Run(req)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{"difference": 0.1 * math.Sqrt2, "mean": 0.1 / math.Sqrt2} {
		f, ok := res.Figure(name)
		if !ok {
			t.Fatalf("no %s", name)
		}
		if got := f.U / f.K; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: u %g, want %g", name, got, want)
		}
	}
}
