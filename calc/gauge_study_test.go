package calc

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

func cube(x [][][]float64) Val {
	var v Val
	for _, part := range x {
		var g [][]Num
		for _, cell := range part {
			g = append(g, list(cell...).List)
		}
		v.Cube = append(v.Cube, g)
	}
	return v
}

// study is readings made from known scatters: of parts, operators, their interaction and repeats.
func study(rng *rand.Rand, p, o, n int, part, op, inter, rep float64) [][][]float64 {
	ops := make([]float64, o)
	for j := range ops {
		ops[j] = op * rng.NormFloat64()
	}
	x := make([][][]float64, p)
	for i := range x {
		mine := part * rng.NormFloat64()
		for j := range o {
			both := inter * rng.NormFloat64()
			var cell []float64
			for range n {
				cell = append(cell, 10+mine+ops[j]+both+rep*rng.NormFloat64())
			}
			x[i] = append(x[i], cell)
		}
	}
	return x
}

// The published sheet of three operators, ten parts and three trials (NIST/SEMATECH-style textbook study): its averages
// and ranges give the printed figures. D₄(3) is 2.58 in the printed table, 2.575 computed.
func TestAverageRangePublished(t *testing.T) {
	r := averageRange((0.006+0.003+0.002)/3, 9.97367-9.97333, 0.47667, 10, 3, 3)
	near(t, "UCL of the ranges", r.limit, 0.00946, 0.00003)
	near(t, "EV", r.ev, 0.002166, 5e-7)
	near(t, "AV", r.av, 0, 0)
	near(t, "GRR", r.grr, 0.002166, 5e-7)
	near(t, "PV", r.pv, 0.14994, 1e-5)
}

// K₁, K₂, K₃ as a handbook prints them (from memory), and 5.15 times them as an older textbook does.
func TestRangeConstants(t *testing.T) {
	k := func(n int) rangeConstant { return rangeTable()[n-2] }
	for _, tc := range []struct {
		name           string
		got, want, tol float64
	}{
		{"K1(2)", 1 / k(2).d2, 0.8862, 5e-5}, {"K1(3)", 1 / k(3).d2, 0.5908, 5e-5}, {"K2(2)", 1 / k(2).d2Star, 0.7071, 5e-5}, {"K2(3)", 1 / k(3).d2Star, 0.5231, 5e-5}, {"K3(10)", 1 / k(10).d2Star, 0.3146, 5e-5},
		{"older K1(2)", 5.15 / k(2).d2, 4.56, 0.006}, {"older K1(3)", 5.15 / k(3).d2, 3.05, 0.008}, {"older K2(2)", 5.15 / k(2).d2Star, 3.65, 0.01}, {"older K2(3)", 5.15 / k(3).d2Star, 2.70, 0.006},
	} {
		near(t, tc.name, tc.got, tc.want, tc.tol)
	}
}

// The whole table once more, by integrating the distribution of the range: d₂ = ∫ 1 − Φⁿ − (1−Φ)ⁿ, and
// E R² = n(n−1) ∫∫ r² φ(x) φ(x+r) (Φ(x+r) − Φ(x))ⁿ⁻².
func TestRangeConstantsByIntegration(t *testing.T) {
	normal := distuv.UnitNormal
	const h = 0.04
	for i, c := range rangeTable() {
		n := float64(i + 2)
		d2, square := 0.0, 0.0
		for x := -8.0; x <= 8; x += h {
			p := normal.CDF(x)
			d2 += h * (1 - math.Pow(p, n) - math.Pow(1-p, n))
			for r := h; r <= 14; r += h {
				square += h * h * r * r * n * (n - 1) * normal.Prob(x) * normal.Prob(x+r) * math.Pow(normal.CDF(x+r)-p, n-2)
			}
		}
		near(t, "d2", c.d2, d2, 2e-6)
		near(t, "d2*", c.d2Star, math.Sqrt(square), 2e-5)
	}
}

// Scatters that were put in come out again, over many studies.
func TestGaugeStudyRecoversScatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 7))
	var rep, op, inter, part float64
	const studies = 200
	for range studies {
		res := mustRun(t, Request{Method: "gauge-study", Inputs: map[string]Val{"readings": cube(study(rng, 10, 6, 3, 3, 0.5, 0.4, 0.2))}})
		rep += sq(value(t, res, "repeatability")) / studies
		op += sq(value(t, res, "operator")) / studies
		inter += sq(value(t, res, "interaction")) / studies
		part += sq(value(t, res, "part")) / studies
		near(t, "grr", sq(value(t, res, "grr")), sq(value(t, res, "repeatability"))+sq(value(t, res, "operator"))+sq(value(t, res, "interaction")), 1e-12)
	}
	near(t, "repeatability", math.Sqrt(rep), 0.2, 0.01)
	near(t, "operator", math.Sqrt(op), 0.5, 0.05)
	near(t, "interaction", math.Sqrt(inter), 0.4, 0.02)
	near(t, "part", math.Sqrt(part), 3, 0.2)
}

// A table by hand: two parts, two operators, two trials. Means of the cells 2 3 / 6 9, within squares 2 each.
func TestGaugeStudyByHand(t *testing.T) {
	in := map[string]Val{"readings": cube([][][]float64{{{1, 3}, {2, 4}}, {{5, 7}, {8, 10}}}), "tolerance": num(60)}
	res := mustRun(t, Request{Method: "gauge-study", Inputs: in})
	// SS_P = 4·((2.5−5)²+(7.5−5)²) = 50, SS_O = 4·((4−5)²+(6−5)²) = 8, SS_PO = 2·4·0.5² = 2, SS_E = 8 over 4.
	for name, want := range map[string]float64{"ms_part": 50, "ms_operator": 8, "ms_interaction": 2, "ms_error": 2, "repeatability": math.Sqrt2, "interaction": 0, "operator": math.Sqrt(1.5), "part": math.Sqrt(12),
		"grr": math.Sqrt(3.5), "grr_percent": 600 * math.Sqrt(3.5) / 60, "range_mean": 2} {
		near(t, name, value(t, res, name), want, 1e-9)
	}
	for name, x := range map[string][][][]float64{"ragged": {{{1, 3}, {2}}, {{5, 7}, {8, 10}}}, "one operator": {{{1, 3}}, {{5, 7}}}, "one trial": {{{1}, {2}}, {{5}, {7}}}, "operators differ": {{{1, 3}, {2, 4}}, {{5, 7}}}} {
		if res, err := Run(Request{Method: "gauge-study", Inputs: map[string]Val{"readings": cube(x)}}); err != nil || res.Refused == "" {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
}

// Trials that all agree say that the display is coarse, not that the gauge is perfect. Computed independently, no
// published example: steps of 0.005 mm hide anything under 0.00144 mm, 14.4 % of a tolerance of 0.06 mm.
func TestGaugeStudyDisplayHides(t *testing.T) {
	agree := cube([][][]float64{{{10.005, 10.005, 10.005}, {10.005, 10.005, 10.005}}, {{10.020, 10.020, 10.020}, {10.020, 10.020, 10.020}}, {{10.045, 10.045, 10.045}, {10.045, 10.045, 10.045}}})
	upper := 30.0
	req := Request{Method: "gauge-study", Kind: quantity.Length, Inputs: map[string]Val{"readings": agree, "tolerance": num(0.06)}, Limits: map[string]Limit{"grr_percent": {Upper: &upper}}}
	res := mustRun(t, req)
	near(t, "repeatability", value(t, res, "repeatability"), 0.00144, 5e-6)
	near(t, "grr_percent", value(t, res, "grr_percent"), 14.4, 0.05)
	f, _ := res.Figure("grr_percent")
	if !strings.HasPrefix(f.Shown.MM, "at least 14.4") {
		t.Errorf("shown as %q", f.Shown.MM)
	}
	if !strings.Contains(string(WriteForm(res, quantity.Metric)), `"at_least": true`) {
		t.Error("the JSON form does not say at least")
	}
	if !f.AtLeast || f.Verdict != VerdictTooClose || !strings.Contains(f.Reason, "at least") {
		t.Errorf("at least %v, verdict %q, reason %q; want no verdict in", f.AtLeast, f.Verdict, f.Reason)
	}
	if !strings.Contains(strings.Join(res.Warnings, " "), "display hides the repeatability") {
		t.Errorf("warnings %q", res.Warnings)
	}
	// Over the limit it is out, however much more it may be.
	upper = 10
	if res := mustRun(t, req); res.Verdict != VerdictOut {
		t.Errorf("verdict %q, want out", res.Verdict)
	}
	// A step that was given counts, and one that the readings were stated with.
	req.Inputs["resolution"] = num(0.01)
	near(t, "given step", value(t, mustRun(t, req), "repeatability"), 0.01/math.Sqrt(12), 1e-12)
	delete(req.Inputs, "resolution")
	stated := cloneVals(map[string]Val{"readings": agree})["readings"]
	for _, part := range stated.Cube {
		for _, cell := range part {
			for i := range cell {
				cell[i].Us = []Component{{Name: "resolution", U: 0.002 / math.Sqrt(12)}}
			}
		}
	}
	req.Inputs["readings"] = stated
	near(t, "stated step", value(t, mustRun(t, req), "repeatability"), 0.002/math.Sqrt(12), 1e-12)
	// More than a quarter of the ranges are nothing.
	some := [][][]float64{{{1.0, 1.0}, {1.0, 1.2}}, {{2.0, 2.1}, {2.0, 2.0}}}
	out := studied(t, some)
	if !out.atLeast["grr_percent"] {
		t.Error("half of the ranges are nothing, yet grr is stated as it is")
	}
	// Scatter that the display shows is stated as it is.
	if out := studied(t, [][][]float64{{{1.0, 1.3}, {1.1, 1.4}}, {{2.0, 2.3}, {2.2, 2.1}}}); out.atLeast["grr_percent"] || len(out.warnings) != 0 {
		t.Errorf("at least %v, warnings %q, want neither", out.atLeast, out.warnings)
	}
	// All alike: nothing to go by.
	res, err := Run(Request{Method: "gauge-study", Inputs: map[string]Val{"readings": cube([][][]float64{{{1, 1}, {1, 1}}, {{1, 1}, {1, 1}}})}})
	if err != nil || !strings.Contains(res.Refused, "resolution") {
		t.Errorf("%+v, %v, want a refusal that asks for the step", res, err)
	}
}

func studied(t *testing.T, x [][][]float64) *Out {
	t.Helper()
	m := gaugeStudy()
	out, err := compute(&m, map[string]Val{"readings": cube(x)})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
