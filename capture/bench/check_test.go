package bench_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"thoud/capture/bench"
)

func TestCheckOf(t *testing.T) {
	// Worked by hand: mean 0.001, deviations −0.003, 0, 0.003, so s = √(0.000018/2) = 0.003; with 0.004 of the standards
	// √(0.003² + 0.004²) = 0.005.
	c, err := bench.CheckOf("dial-1", []float64{-0.002, 0.001, 0.004}, 0.004)
	if err != nil {
		t.Fatal(err)
	}
	if c.Gauge != "dial-1" || c.Study || c.Error != 0.004 || math.Abs(c.U-0.005) > 1e-12 || c.Dof != 2 {
		t.Errorf("got %+v, want error 0.004, U 0.005 and 2 degrees of freedom", c)
	}
	// The largest error may be on the minus side; one standard alone has no spread.
	c, err = bench.CheckOf("dial-1", []float64{-0.007}, 0.002)
	if err != nil || c.Error != 0.007 || c.U != 0.002 || c.Dof != 0 {
		t.Errorf("of one: %+v, %v", c, err)
	}
	for _, bad := range [][]float64{nil, {math.NaN()}, {0.1, math.Inf(1)}} {
		if c, err := bench.CheckOf("dial-1", bad, 0); err == nil {
			t.Errorf("%v gives %+v", bad, c)
		}
	}
	if _, err := bench.CheckOf("dial-1", []float64{0}, -1); err == nil {
		t.Error("an uncertainty below 0 is taken")
	}
}

// A study is held against another library's standard deviation.
func TestStudyOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(rapid.Float64Range(-1, 1), bench.LeastStudy, 40).Draw(t, "xs")
		c, err := bench.StudyOf("dial-1", xs)
		if err != nil {
			t.Fatal(err)
		}
		if want := stat.StdDev(xs, nil); math.Abs(c.U-want) > 1e-12 || !c.Study || c.Error != 0 || c.Dof != float64(len(xs)-1) {
			t.Errorf("got %+v, want U %g", c, want)
		}
	})
	if c, err := bench.StudyOf("dial-1", []float64{0, 1}); err == nil {
		t.Errorf("a study of two readings gives %+v", c)
	}
}
