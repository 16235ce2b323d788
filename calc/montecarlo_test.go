package calc

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"thoud/calc/quantity"
)

// usualUncertainty are standard uncertainties as a bench has them, by kind, for every number that is measured.
func usualUncertainty() map[quantity.Kind]float64 {
	return map[quantity.Kind]float64{
		quantity.Length: 0.005, quantity.Angle: 0.1, quantity.Mass: 0.1, quantity.Force: 100, quantity.Torque: 0.3, quantity.Stiffness: 0.2,
		quantity.Stress: 1500, quantity.Volume: 0.1, quantity.Area: 2, quantity.Temperature: 0.3, quantity.Difference: 2, quantity.Expansion: 3e-7, quantity.Density: 0.02,
	}
}

// exactInputs are not measured: stocks to choose from, what is asked for, counts.
var exactInputs = map[string]bool{
	"shims": true, "plates": true, "available": true, "wanted": true, "clearance": true, "checking_height": true, "heights": true, "keyways": true, "tooth_moves": true,
	"seat_wanted": true, "resolution": true, "rings": false, "avoid": true, "depths": true, "axes": true, "tip_flat": true, "required": true, "preload_wanted": true, "proof_stress": true, "min_slack": true, "target": true,
}

// withUsual gives every measured number of a request its usual uncertainty.
func withUsual(inputs []Input, vals map[string]Val, u map[quantity.Kind]float64) map[string]Val {
	vals = cloneVals(vals)
	var visit func(inputs []Input, vals map[string]Val)
	visit = func(inputs []Input, vals map[string]Val) {
		for name, v := range vals {
			in, _ := FindInput(inputs, name)
			if exactInputs[name] {
				continue
			}
			nums := membersOf(v)
			if v.Num != nil {
				nums = append(nums, v.Num)
			}
			for _, g := range v.Cube {
				nums = append(nums, membersOf(Val{Grid: g})...)
			}
			for _, n := range nums {
				if x := u[in.Kind]; x > 0 && n.Us == nil {
					n.Us = []Component{{U: x}}
				}
			}
			if v.Rec != nil {
				visit(in.Fields, v.Rec)
			}
			for _, r := range v.Recs {
				visit(in.Fields, r)
			}
		}
	}
	visit(inputs, vals)
	return vals
}

// simulated propagates the distributions themselves (JCGM 101:2008): every component normal, common errors moved together.
// It gives the standard deviation of every number of the figures, and the share of trials that took the same choices.
func simulated(t *testing.T, pr *propagator, trials int) (sd []float64, kept float64) {
	t.Helper()
	rng := rand.New(rand.NewPCG(20, 101))
	sources := collectSources(pr.m.Inputs, pr.work)
	base := map[*Num]float64{}
	for _, s := range sources {
		for _, n := range s.nums {
			base[n] = n.X
		}
	}
	n := 0.0
	mean, squares := make([]float64, len(pr.slots)), make([]float64, len(pr.slots))
	for range trials {
		for _, s := range sources {
			z := rng.NormFloat64()
			for j, num := range s.nums {
				num.X += z * s.steps[j]
			}
		}
		row, same := pr.eval()
		for num, x := range base {
			num.X = x
		}
		if row == nil || !same {
			continue
		}
		n++
		for j := range row {
			d := pr.diff(j, row[j], pr.f0[j])
			was := d - mean[j]
			mean[j] += was / n
			squares[j] += was * (d - mean[j])
		}
	}
	for j := range squares {
		sd = append(sd, math.Sqrt(squares[j]/(n-1)))
	}
	return sd, n / float64(trials)
}

// mcRow is a case for the simulation; apart names figures that the first-order law is known not to serve, with the reason.
type mcRow struct {
	method string
	in     map[string]Val
	u      map[quantity.Kind]float64 // instead of the usual
	apart  map[string]string
}

func mcRows() []mcRow {
	half := turn(0, 720, 5)
	cut := func(u map[quantity.Kind]float64, kind quantity.Kind, x float64) map[quantity.Kind]float64 {
		out := usualUncertainty()
		for k, v := range u {
			out[k] = v
		}
		out[kind] = x
		return out
	}
	fine := cut(nil, quantity.Length, 0.001)
	outer, inner := outerInner()
	const extreme = "a largest or smallest of several that lie close: it jumps from one reading to the next, so U takes the steeper side"
	const near0 = "nearly nothing, so the law of the amplitude is not normal"
	return []mcRow{
		{method: "indicator-travel", in: given{"reading": 1.2, "zero": 0.2, "misalignment": 20.0}.vals()},
		{method: "contact-clearance", in: given{"protrusion": []float64{5.4}, "clearance": 1.27, "side": "outside", "now": 6.3, "joint_at_contact": 0.5, "joint_at_assembly": 0.8}.vals()},
		{method: "centre-line", in: given{"from_top": 12.4, "from_bottom": 12.9}.vals()},
		{method: "running-fit", in: given{"hole": 19.05, "shaft": 19.02, "alpha_hole": 23e-6, "alpha_shaft": 11.5e-6, "hole_rise": 100.0, "shaft_rise": 90.0}.vals()},
		{method: "cone-seat", in: given{"seat_drill": 6.35, "seat_depth": 3.175, "pilot_drill": 3.175, "pilot_depth": 4.7625, "screw_diameter": 6.2, "cone_angle": 90.0, "seat_angle": 118.0}.vals()},
		{method: "runout", in: given{"angle": eighths(), "reading": []float64{0.05, 0.0707, 0.05, 0, -0.05, -0.0707, -0.05, 0.0}}.vals(), u: fine,
			apart: map[string]string{"ovality": near0}},
		{method: "end-float", in: given{"push": 0.02, "pull": 0.95, "wanted": 0.2, "shims": []float64{0.5, 0.2, 0.1}}.vals()},
		{method: "shim-stack", in: given{"gap": 0.93, "wanted": 0.2, "shims": []float64{0.5, 0.2, 0.1}}.vals()},
		{method: "shim-both-sides", in: given{"gap_left": 0.93, "gap_right": 1.24, "wanted": 0.2, "shims": []float64{0.5, 0.4, 1}}.vals(), apart: map[string]string{"cost": "a sum of absolute values near zero"}},
		{method: "bore-map", in: topIn{}.list("depths", 10, 40, 75).list("axes", 0, 60, 120).grid("diameters", []float64{72.09, 72.04, 72.06}, []float64{72.05, 72.01, 72.03}, []float64{72.03, 71.99, 72.01}).
			num("piston_diameter", 71.90).num("clearance", 0.30).num("cylinder_temperature", 27).num("instrument_temperature", 24).num("alpha_cylinder", 11e-6).num("alpha_instrument", 11.5e-6), u: fine},
		{method: "circle-fit", in: topIn{}.grid("points", []float64{36, 0}, []float64{25.5, 25.4}, []float64{0.02, 36.01}, []float64{-25.4, 25.5}, []float64{-36.02, 0}, []float64{-25.5, -25.45}, []float64{0, -35.99}, []float64{25.46, -25.45}),
			u: cut(nil, quantity.Length, 0.05), apart: map[string]string{"roundness": extreme, "arc": "the two points beside the widest gap change places"}},
		{method: "ring-gap", in: given{"gap": 0.25, "bore_at_gap": 72.06, "narrowest_bore": 72.03, "factor": 0.004, "alpha_ring": 11e-6, "alpha_bore": 11e-6, "ring_rise": 220.0, "bore_rise": 150.0}.vals(), u: cut(nil, quantity.Length, 0.001)},
		{method: "bolt-preload", in: given{"modulus": 206000.0, "segments": plainStud(), "stretch": 0.2405, "preload_wanted": 26000.0, "proof_stress": 830.0}.vals(), u: cut(nil, quantity.Length, 0.002)},
		{method: "bolt-torque", in: given{"thread": "M10x1.25", "preload": 25000.0, "mu_thread": Num{X: 0.12, Us: []Component{{U: 0.01}}}, "mu_face": Num{X: 0.12, Us: []Component{{U: 0.01}}}, "face_outer": 14.63, "face_inner": 11.0}.vals()},
		{method: "bolt-angle", in: given{"modulus": 206000.0, "segments": plainStud(), "clamped": given{"length": 140.0, "modulus": 72000.0, "area": 700.0}, "pitch": 1.25, "angle": 60.0}.vals()},
		{method: "bolt-heat", in: given{"modulus": 206000.0, "segments": plainStud(), "clamped": given{"length": 150.0, "modulus": 72000.0, "area": 700.0, "alpha": 23e-6, "rise": 100.0},
			"bolt": given{"alpha": 11.5e-6, "rise": 90.0}, "cold_preload": 25000.0}.vals()},
		{method: "piston-position", in: given{"stroke": 80.0, "rod": 160.0, "pin_offset": 1.0, "angle": 38.0}.vals()},
		{method: "piston-position", in: given{"stroke": 80.0, "rod": 160.0, "drop": 8.0}.vals()},
		{method: "tdc-stop", in: given{"forward": 36.0, "back": 325.0, "stroke": 80.0, "rod": 160.0, "pin_offset": 1.0}.vals()},
		{method: "tdc-fit", in: exactPiston(0.8, 5), u: cut(nil, quantity.Length, 0.02)},
		{method: "cam-timing", in: bothLobes(half), u: cut(cut(nil, quantity.Length, 0.005), quantity.Angle, 0.05),
			apart: map[string]string{"inlet_lift": extreme, "exhaust_lift": extreme}},
		{method: "cam-crossings", in: wheelInlet()},
		{method: "cam-events", in: given{"inlet_opening": 30.0, "inlet_closing": 60.0, "exhaust_opening": 62.0, "exhaust_closing": 28.0}.vals()},
		{method: "journal-clearance", in: given{"bore": []float64{41.310, 41.330}, "journal": []float64{41.265, 41.240}}.vals(), u: fine},
		{method: "journal-clearance", in: given{"strip_width": []float64{2.45}, "scale_width": 2.0, "scale_clearance": 0.051}.vals(), u: cut(nil, quantity.Length, 0.002)},
		{method: "chain-slack", in: given(rearChain()).with("min_slack", 15.0).vals(), u: cut(nil, quantity.Length, 0.2), apart: map[string]string{"tight_at": "it goes to the least reading where that is tighter than the curve, so it jumps"}},
		{method: "deck-height", in: given{"reading_1": 0.5, "arm_1": 30.0, "reading_2": 0.4, "arm_2": -28.0}.vals()},
		{method: "compression", in: twin().with("ratio_wanted", 10.0).with("rod", 160.0).with("inlet_closing", 240.0).vals()},
		{method: "balance", in: crankMasses().with("hung", 390.0).with("factor_wanted", 0.62).with("crank_radius", 40.0).with("hole_radius", 52.0).vals()},
		{method: "rod-weigh", in: given{"small": 142.0, "big": 318.0, "total": 460.5}.vals()},
		{method: "rocker-geometry", in: given{"valve_arm": 38.0, "pushrod_arm": 31.0, "lift": 9.4, "closed_angle": 12.0, "lean": 8.0}.vals(), u: cut(nil, quantity.Length, 0.05)},
		{method: "cam-correction", in: correct(107.6, 104).recs("keyways", keyway("A", 0), keyway("B", 1.5), keyway("C", -1.5)).num("teeth", 40).rec("now", topIn{}.num("tooth", 0).text("keyway", "A"))},
		{method: "key-offset", in: topIn{}.num("shaft_diameter", 25).num("correction_crank", 3).text("shaft", "camshaft")},
		{method: "valve-to-piston", in: overValve(inletLobe, 20, turn(-180, 540, 5)).num("push", 2.60).num("at", 8).num("required", 1.5).num("advance", 4), u: cut(cut(nil, quantity.Length, 0.002), quantity.Angle, 0.03)},
		{method: "clearance-stops", in: sevenStops(), u: cut(cut(nil, quantity.Length, 0.01), quantity.Angle, 0.25)},
		{method: "valve-to-valve", in: valves(turn(-360, 360, 5)), u: cut(cut(nil, quantity.Length, 0.0005), quantity.Angle, 0.01)},
		{method: "spring-shims", in: sprung([]float64{306, 311, 303}, 40).list("shims", 0.6, 0.6, 0.3, 0.3, 0.3), u: cut(nil, quantity.Force, 0.3)},
		{method: "valve-spring", in: nest(outer, inner).num("seat_wanted", 380), u: cut(nil, quantity.Length, 0.02)},
		{method: "valve-lash", in: topIn{}.num("lash", 0.25).num("target", 0.10).num("pitch", 1)},
		{method: "lash-positions", in: topIn{}.num("inlet_centre", 108).num("exhaust_centre", 111)},
		{method: "statistics", in: map[string]Val{"values": list(1.30, 1.24, 1.21, 1.27)}, apart: map[string]string{"mean": "its readings scatter more than is stated, which governs", "lag1": "a ratio of small differences"}},
		{method: "spread", in: map[string]Val{"values": list(1.30, 1.24, 1.21, 1.27)}},
		{method: "anova", in: map[string]Val{"groups": {Rec: map[string]Val{"a": list(1, 1.1, 1.2), "b": list(2, 2.2, 2.1)}}}},
	}
}

// withoutUncertainty are the methods whose figures have no uncertainty to propagate, each with why.
var withoutUncertainty = map[string]string{
	"indicator-extension": "chosen pieces", "ring-stagger": "counted angles", "thread": "a table", "uncertainty": "is one itself", "decide": "is about one", "gauge-study": "is one itself",
	"tolerance-grade": "a table", "assign": "chosen parts; its fits are differences",
}

// Monte Carlo as the second way to every U (GUM supplement 1, JCGM 101:2008): the standard deviation of each figure over
// simulated readings lies within 5 % of u, or the row says why it does not.
func TestMonteCarloOfEveryMethod(t *testing.T) {
	trials := 1500
	noise := 2 / math.Sqrt(2*float64(trials)) // of the simulation itself, two standard deviations
	if os.Getenv("THOUD_LONG") != "" {
		trials, noise = 40000, 0 // good to 0.35 % of u
	}
	seen := map[string]bool{}
	for _, row := range mcRows() {
		seen[row.method] = true
		t.Run(row.method, func(t *testing.T) { row.simulate(t, trials, noise) })
	}
	for _, m := range Methods() {
		if why := withoutUncertainty[m.Name]; !seen[m.Name] && why == "" {
			t.Errorf("%s is simulated by nobody: give it a row in mcRows, or say in withoutUncertainty why it has none", m.Name)
		}
	}
}

// simulate holds one row's U against its simulation.
func (row mcRow) simulate(t *testing.T, trials int, noise float64) {
	m, ok := Find(row.method)
	if !ok {
		t.Fatal("no such method")
	}
	kind := row.kind()
	m = m.of(kind)
	u := row.u
	if u == nil {
		u = usualUncertainty()
	}
	req := Request{Method: m.Name, Kind: kind, Inputs: m.withUncertainty(withUsual(m.Inputs, row.in, u))}
	m.Uncertainty = nil // it is in them now
	res, err := m.Run(req)
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	base, err := computeInto(&Out{method: &m, nums: map[string]float64{}, wantSlopes: true}, req.Inputs)
	if err != nil {
		t.Fatal(err)
	}
	pr := newPropagator(&m, req, base)
	sd, kept := simulated(t, pr, trials)
	if kept < 0.9 {
		t.Errorf("only %.0f %% of the trials took the same choice", 100*kept)
	}
	for j, s := range pr.slots {
		name := m.Figures[s.figure].Name
		if _, apart := row.apart[name]; apart {
			continue
		}
		nothing := 1e-9 * math.Max(1, math.Abs(pr.f0[j]))
		u := standardU(res, base, name, s.at)
		if sd[j] < nothing && u < nothing {
			continue
		}
		if ratio := u / sd[j]; !(ratio > 0.95-noise && ratio < 1.05+noise) {
			t.Errorf("%s[%d] = %g: u %.4g, simulated %.4g, ratio %.3f", name, s.at, pr.f0[j], u, sd[j], ratio)
		}
	}
}

// kind is what inputs of any kind are in a row.
func (row mcRow) kind() quantity.Kind {
	switch row.method {
	case "statistics", "spread", "anova":
		return quantity.Length
	}
	return quantity.Number
}

// standardU is a figure's standard uncertainty without what its formula may be wrong by, which no simulation shows.
func standardU(res Result, base *Out, figure string, at int) float64 {
	f, _ := res.Figure(figure)
	u := f.U
	if f.ULists != nil {
		u = f.ULists[at]
	}
	if f.K > 0 {
		u /= f.K
	}
	return math.Sqrt(math.Max(0, u*u-base.model[figure]*base.model[figure]/3))
}

// exactPiston are readings of a piston as the geometry has them, with top dead centre at an angle.
func exactPiston(tdc, step float64) map[string]Val {
	c := sliderCrank{r: 40, l: 160}
	in := crank80()
	crank, err := crankOf(Args{tdcFit().Inputs, in})
	if err == nil {
		c = crank
	}
	var angles, readings []float64
	for a := 20.0; a <= 40; a += step {
		for _, sign := range []float64{-1, 1} {
			angles = append(angles, sign*a)
			readings = append(readings, 20-c.drop(sign*a-tdc))
		}
	}
	return in.list("crank_angle", angles...).list("reading", readings...)
}
