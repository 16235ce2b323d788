package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Indicated times cosine; the two-figure tables of the trade agree to their rounding.
func TestIndicatorTravel(t *testing.T) {
	for _, tc := range []struct{ reading, angle, want, tol float64 }{
		{0.200, 10, 0.196, 0.001}, {0.200, 20, 0.188, 0.001}, {0.200, 30, 0.174, 0.001}, // customary tables
		{0.200, 10, 0.19696, 5e-6}, {0.200, 20, 0.18794, 5e-6}, {0.200, 30, 0.17321, 5e-6}, // computed independently
		{0.200, 40, 0.15321, 5e-6}, {0.200, 50, 0.12856, 5e-6}, {0.200, 60, 0.10000, 5e-6},
		{0.004 * inch, 60, 0.002 * inch, 1e-12},
	} {
		res := mustRun(t, Request{Method: "indicator-travel", Inputs: map[string]Val{"reading": num(tc.reading), "zero": num(0), "misalignment": num(tc.angle)}})
		near(t, "displacement", value(t, res, "displacement"), tc.want, tc.tol)
		if (tc.angle > 8) != (len(res.Warnings) == 1) {
			t.Errorf("%g°: warnings %v", tc.angle, res.Warnings)
		}
	}
	// A lever over a long arc, computed independently.
	lever := map[string]Val{"reading": num(3), "zero": num(4), "sense": num(-1), "lever_length": num(20), "start_angle": num(15)}
	near(t, "lever", value(t, mustRun(t, Request{Method: "indicator-travel", Inputs: lever}), "displacement"), 0.959054, 5e-7)
	for name, in := range map[string]map[string]Val{
		"square":     {"reading": num(1), "zero": num(0), "misalignment": num(90)},
		"past round": {"reading": num(30), "zero": num(0), "lever_length": num(20), "start_angle": num(15)},
	} {
		if res, err := Run(Request{Method: "indicator-travel", Inputs: in}); err != nil || res.Refused == "" {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
	for name, in := range map[string]map[string]Val{
		"sense": {"reading": num(1), "zero": num(0), "sense": num(2)},
		"both":  {"reading": num(1), "zero": num(0), "lever_length": num(20), "start_angle": num(1), "misalignment": num(1)},
		"half":  {"reading": num(1), "zero": num(0), "lever_length": num(20)},
	} {
		if _, err := Run(Request{Method: "indicator-travel", Inputs: in}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// The lever's arc is a rotation: its tip really stands where the formula says.
func TestIndicatorLeverGeometry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, start, x := rapid.Float64Range(5, 50).Draw(t, "length"), rapid.Float64Range(-40, 40).Draw(t, "start"), rapid.Float64Range(-2, 2).Draw(t, "x")
		tip := func(angle float64) complex128 { return complex(l*math.Cos(angle), l*math.Sin(angle)) }
		a := start * math.Pi / 180
		want := imag(tip(a+x/l)) - imag(tip(a))
		got := value(t, mustRun(t, Request{Method: "indicator-travel", Inputs: map[string]Val{"reading": num(x), "zero": num(0), "lever_length": num(l), "start_angle": num(start)}}), "displacement")
		if math.Abs(got-want) > 1e-9 {
			t.Fatalf("got %g, want %g", got, want)
		}
	})
}

// Computed independently: one set of five pieces fits the window.
func TestIndicatorExtension(t *testing.T) {
	in := map[string]Val{"depth_to_crown": num(78.4), "reach": num(21), "travel": num(12.5), "drop": num(10), "min_compression": num(0.5), "margin": num(0.5), "available": list(3.5, 10, 20, 25, 40)}
	res := mustRun(t, Request{Method: "indicator-extension", Inputs: in})
	for name, want := range map[string]float64{"window_low": 67.9, "window_high": 69.4, "total": 68.5, "compression_at_tdc": 11.1, "valid_sets": 1} {
		near(t, name, value(t, res, name), want, 1e-9)
	}
	chosen, _ := res.Figure("chosen")
	if got := chosen.List; len(got) != 3 || got[0] != 40 || got[1] != 25 || got[2] != 3.5 {
		t.Errorf("chosen: got %v, want [40 25 3.5]", got)
	}
	if got := res.Adjustment[0].Words.MM; got != "screw on 68.5 mm of extensions: 40.00 + 25.00 + 3.50" {
		t.Errorf("words: %q", got)
	}
	// The boundary belongs to the window, whatever the last bit says: 0.1 + 0.2 is not 0.3 in binary.
	edge := map[string]Val{"depth_to_crown": num(10.3), "reach": num(10), "travel": num(1), "drop": num(0.5), "min_compression": num(-0.5), "margin": num(1), "available": list(0.1, 0.2)}
	near(t, "edge", value(t, mustRun(t, Request{Method: "indicator-extension", Inputs: edge}), "total"), 0.3, 1e-12)
	for name, spoil := range map[string]func(map[string]Val){
		"travel":    func(v map[string]Val) { v["travel"] = num(10.9) },
		"available": func(v map[string]Val) { v["available"] = list(3.5, 10) },
		"pieces":    func(v map[string]Val) { v["max_pieces"] = num(2) },
	} {
		bad := map[string]Val{}
		for k, v := range in {
			bad[k] = v
		}
		spoil(bad)
		if res, err := Run(Request{Method: "indicator-extension", Inputs: bad}); err != nil || res.Refused == "" {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
}

func TestCentreLine(t *testing.T) {
	run := func(in map[string]Val) Result { return mustRun(t, Request{Method: "centre-line", Inputs: in}) }
	near(t, "from thickness", value(t, run(map[string]Val{"thickness": num(19.05)}), "scribe_height"), 9.525, 1e-12)
	both := run(map[string]Val{"from_top": num(9), "from_bottom": num(10.05)})
	near(t, "from both", value(t, both, "scribe_height"), 9.525, 1e-12)
	// A hole 9 mm under the top of 19.05 mm stands above the middle: too near the top.
	near(t, "off centre", value(t, both, "off_centre"), 0.525, 1e-12)
	all := run(map[string]Val{"thickness": num(19.05), "from_top": num(9.02), "from_bottom": num(10.05)})
	near(t, "all read", value(t, all, "scribe_height"), (10.05+19.05-9.02)/2, 1e-12)
	if res, err := Run(Request{Method: "centre-line", Inputs: map[string]Val{"thickness": num(25), "from_top": num(9), "from_bottom": num(10)}}); err != nil || res.Refused == "" {
		t.Errorf("got %+v, %v, want a refusal", res, err)
	}
	for _, in := range []map[string]Val{{}, {"from_top": num(9)}, {"from_bottom": num(9), "thickness": num(20)}} {
		if _, err := Run(Request{Method: "centre-line", Inputs: in}); err == nil {
			t.Errorf("%v: no error", in)
		}
	}
}

// Computed independently: bronze or aluminium around steel, both 100 K warmer.
func TestRunningFit(t *testing.T) {
	in := map[string]Val{"hole": num(19.050), "shaft": num(19.020), "alpha_hole": num(23e-6), "alpha_shaft": num(11.5e-6), "hole_rise": num(100), "shaft_rise": num(100)}
	res := mustRun(t, Request{Method: "running-fit", Inputs: in})
	near(t, "cold", value(t, res, "clearance_at_20"), 0.0300, 1e-12)
	near(t, "hot", value(t, res, "clearance_hot"), 19.093815-19.041873, 5e-7)
	// Read warm, the same parts give the same fit at 20 °C: expand them by hand first.
	warm := map[string]Val{"hole": num(19.050 * (1 + 23e-6*7)), "shaft": num(19.020 * (1 + 11.5e-6*3)), "alpha_hole": num(23e-6), "alpha_shaft": num(11.5e-6), "hole_temperature": num(27), "shaft_temperature": num(23)}
	near(t, "read warm", value(t, mustRun(t, Request{Method: "running-fit", Inputs: warm}), "clearance_at_20"), 0.0300, 1e-12)
	tight := mustRun(t, Request{Method: "running-fit", Inputs: map[string]Val{"hole": num(19), "shaft": num(19.02)}})
	if len(tight.Warnings) != 1 || !strings.Contains(tight.Warnings[0], "0.0200 mm") {
		t.Errorf("warnings: %v", tight.Warnings)
	}
	if _, err := Run(Request{Method: "running-fit", Inputs: map[string]Val{"hole": num(19), "shaft": num(18), "hole_rise": num(100)}}); err == nil {
		t.Error("a rise without a coefficient: no error")
	}
}

// ISO 286-1, table 1, as printed.
func TestToleranceGrade(t *testing.T) {
	grade := func(size float64, g string) Result {
		return mustRun(t, Request{Method: "tolerance-grade", Inputs: map[string]Val{"size": num(size), "grade": {Text: g}}})
	}
	for _, r := range []struct {
		low, high float64
		it        [4]float64 // IT5 … IT8
	}{
		{18.001, 30, [4]float64{9, 13, 21, 33}}, {30.001, 50, [4]float64{11, 16, 25, 39}}, {50.001, 80, [4]float64{13, 19, 30, 46}}, {80.001, 120, [4]float64{15, 22, 35, 54}},
		{10.001, 18, [4]float64{8, 11, 18, 27}}, {6.001, 10, [4]float64{6, 9, 15, 22}}, {3.001, 6, [4]float64{5, 8, 12, 18}}, {0.5, 3, [4]float64{4, 6, 10, 14}},
	} {
		for i, want := range r.it {
			for _, size := range []float64{r.low, r.high} {
				near(t, "IT", 1000*value(t, grade(size, "IT"+string(rune('5'+i))), "tolerance"), want, 1e-9)
			}
		}
	}
	near(t, "i of 50–80", 1000*value(t, grade(72, "IT7"), "tolerance_unit"), 1.8561, 5e-5)
	if res, err := Run(Request{Method: "tolerance-grade", Inputs: map[string]Val{"size": num(500.1), "grade": {Text: "IT7"}}}); err != nil || res.Refused == "" {
		t.Errorf("got %+v, %v, want a refusal", res, err)
	}
	for _, g := range []string{"7", "IT0", "IT17", "H7", "it"} {
		if _, err := Run(Request{Method: "tolerance-grade", Inputs: map[string]Val{"size": num(72), "grade": {Text: g}}}); err == nil {
			t.Errorf("%s: no error", g)
		}
	}
}

// ISO 286-1's formula behind the whole table: IT5 is about 7 i, and from IT6 on 10, 16, 25, 40 … i (factors from memory
// beyond IT8). The printed widths are rounded, and the smallest sizes by more.
func TestToleranceTableFollowsFormula(t *testing.T) {
	factors := []float64{7, 10, 16, 25, 40, 64, 100, 160, 250, 400, 640, 1000}
	over := 0.0
	for _, r := range gradeTable() {
		for i, f := range factors {
			want := f * toleranceUnit(over, r.upTo)
			share := 0.08
			if r.upTo <= 6 {
				share = 0.16
			}
			if got := r.widths[4+i]; math.Abs(got-want) > math.Max(0.6, share*want) {
				t.Errorf("to %g mm IT%d: table %g µm, formula %.2f", r.upTo, 5+i, got, want)
			}
		}
		for i := 1; i < 16; i++ {
			if r.widths[i] <= r.widths[i-1] {
				t.Errorf("to %g mm: IT%d is not wider than IT%d", r.upTo, i+1, i)
			}
		}
		over = r.upTo
	}
}
