package calc

import (
	"math"

	"thoud/calc/quantity"
)

// gaugeStudy parts the scatter of repeated readings into gauge, operators and parts: p parts, o operators, n trials each.
//
//	two-way analysis of variance, parts and operators random, with interaction; negative variances count as 0:
//	    repeatability² = MS_E      interaction² = (MS_PO − MS_E)/n
//	    operator² = (MS_O − MS_PO)/(p·n)      part² = (MS_P − MS_PO)/(o·n)
//	    grr² = repeatability² + interaction² + operator²
//	average and range: EV = R̄·K₁, AV = √((X̄diff·K₂)² − EV²/(p·n)), PV = R_p·K₃
//
//	a display of step δ cannot show less than δ/√12: that is the least repeatability
//
// δ is resolution where given, else what the readings were stated with, else the largest step that divides all their
// differences. Where the trials agree better than the display can show, or more than a quarter of them agree wholly, the
// floor counts, grr_percent is "at least", it is warned, and no verdict says in.
//
// In the unit of the readings, mean squares in its square. grr_percent is 6·grr over the tolerance where that is given,
// else grr over the total scatter. Refused: ragged tables; fewer than 2 parts, 2 operators or 2 trials; trials that all
// agree where no step can be told. Montgomery,
// Statistical Quality Control, and the NIST/SEMATECH e-Handbook, 2.4 (from memory); the constants computed independently.
func gaugeStudy() Method {
	ms := func(name, doc string) Figure { return Figure{Name: name, Kind: quantity.Number, Doc: doc} }
	sd := func(name, doc string) Figure { return Figure{Name: name, Kind: AnyKind, Doc: doc} }
	return Method{
		Name: "gauge-study", Version: 2, Title: "How well gauge and hand repeat",
		Inputs: []Input{
			{Name: "readings", Shape: Cube, Kind: AnyKind, Doc: "readings[part][operator][trial]"},
			{Name: "tolerance", Kind: AnyKind, Positive: true, Optional: true, Doc: "width of the tolerance the gauge is for"},
			{Name: "resolution", Kind: AnyKind, Positive: true, Optional: true, Doc: "one step of the display; found from the readings where not given"},
		},
		Figures: []Figure{
			ms("ms_part", "mean square of the parts"), ms("ms_operator", "mean square of the operators"),
			ms("ms_interaction", "mean square of parts by operators"), ms("ms_error", "mean square within the cells"),
			sd("repeatability", "scatter of one hand on one part"), sd("operator", "scatter between operators"),
			sd("interaction", "scatter of operators from part to part"), sd("grr", "gauge and hands together"), sd("part", "scatter of the parts"),
			{Name: "grr_percent", Kind: quantity.Number, Unit: "%", Doc: "6·grr in percent of the tolerance, or grr in percent of the total scatter"},
			sd("range_mean", "mean range within the cells"), sd("range_limit", "ranges above this are out of the ordinary (D4·R̄)"),
			sd("range_repeatability", "EV by average and range"), sd("range_operator", "AV by average and range"),
			sd("range_grr", "gauge and hands by average and range"), sd("range_part", "PV by average and range"),
		},
		Formula:  "GRR = √(repeatability² + operator² + interaction²) from the mean squares; EV = R̄·K1, AV = √((X̄diff·K2)² − EV²/(p·n)), PV = Rp·K3",
		Source:   "two-way random analysis of variance; NIST/SEMATECH e-Handbook 2.4 (from memory)",
		Cautions: []string{"Parts must span what the gauge will meet, in random order, without the reader seeing the last reading."},
		Compute:  computeGaugeStudy,
	}
}

func computeGaugeStudy(in Args, out *Out) error {
	x := in.Cube("readings")
	p, o, n := len(x), len(x[0]), len(x[0][0])
	for i, part := range x {
		for j, cell := range part {
			if len(part) != o || len(cell) != n {
				return Refuse("readings", "give every operator the same parts as often", "part %d, operator %d has another number of readings than the first", i+1, j+1)
			}
		}
		if len(part) != o {
			return Refuse("readings", "give every operator the same parts", "part %d has %s, the first has %d", i+1, plurals(len(part), "operator"), o)
		}
	}
	if p < 2 || o < 2 || n < 2 {
		return Refuse("readings", "take two trials or more of two parts or more by two operators or more", "%d parts, %d operators, %d trials", p, o, n)
	}
	step, err := studyStep(in, x)
	if err != nil {
		return err
	}
	floor := step / math.Sqrt(12)
	hidden := displayHides(x, floor)
	if !hidden {
		floor = 0
	}
	studyVariance(x, floor, out, in)
	studyRanges(x, floor, out)
	if hidden {
		for _, name := range []string{"repeatability", "grr", "grr_percent", "range_repeatability", "range_grr"} {
			out.AtLeast(name)
		}
		out.Warn("the display hides the repeatability: the trials agree better than its step shows, so grr is at least what stands here; use a gauge that reads finer")
	}
	return nil
}

// studyStep is the step of the display, 0 where it cannot be told and is not needed.
func studyStep(in Args, x [][][]float64) (float64, error) {
	if in.Has("resolution") {
		return in.Num("resolution"), nil
	}
	stated, known := in.statedStep("readings")
	if stated > 0 || known {
		// Readings that carry an uncertainty are moved by it to find sensitivities, and then share no step any more.
		return stated, nil
	}
	step, most := 0.0, 0.0
	for _, part := range x {
		for _, cell := range part {
			for _, y := range cell {
				most = math.Max(most, math.Abs(y-x[0][0][0]))
			}
		}
	}
	for _, part := range x {
		for _, cell := range part {
			for _, y := range cell {
				step = commonStep(step, math.Abs(y-x[0][0][0]), 1e-7*most)
			}
		}
	}
	if step == 0 {
		return 0, Refuse("resolution", "give the step of the display, and measure parts that differ", "all readings are alike, so nothing can be told of the gauge")
	}
	return step, nil
}

// statedStep is the step of the display that a cube of readings was stated with, and whether they carry any uncertainty.
func (a Args) statedStep(name string) (step float64, uncertainty bool) {
	a.decl(name, Cube)
	for _, part := range a.vals[name].Cube {
		for _, cell := range part {
			for _, n := range cell {
				for _, c := range n.Us {
					uncertainty = true
					if c.Name == "resolution" {
						step = math.Max(step, c.U*math.Sqrt(12))
					}
				}
			}
		}
	}
	return step, uncertainty
}

// commonStep is the largest step that divides both to within tol (Euclid).
func commonStep(a, b, tol float64) float64 {
	for b > tol {
		// The remainder nearest to zero: 0.015 is three times 0.005 whatever the last bit says.
		a, b = b, math.Abs(math.Remainder(a, b))
	}
	return a
}

// displayHides reports that the trials show less scatter than a display of this floor can, or too often none.
func displayHides(x [][][]float64, floor float64) bool {
	cells, equal, within, n := 0, 0, 0.0, 0
	for _, part := range x {
		for _, cell := range part {
			s := summarise(cell)
			cells++
			if s.greatest == s.least {
				equal++
			}
			within += s.sd * s.sd * float64(len(cell)-1)
			n += len(cell) - 1
		}
	}
	return 4*equal > cells || within/float64(n) < floor*floor
}

// studyVariance is the two-way analysis of variance, about the first reading; the repeatability is at least floor.
func studyVariance(x [][][]float64, floor float64, out *Out, in Args) {
	p, o, n := float64(len(x)), float64(len(x[0])), float64(len(x[0][0]))
	zero := x[0][0][0]
	parts, ops := make([]float64, len(x)), make([]float64, len(x[0]))
	cells := make([][]float64, len(x))
	grand, within := 0.0, 0.0
	for i := range x {
		cells[i] = make([]float64, len(ops))
		for j, cell := range x[i] {
			s := summarise(cell)
			m := s.mean - zero
			cells[i][j] = m
			parts[i] += m / o
			ops[j] += m / p
			grand += m / (p * o)
			within += s.sd * s.sd * (n - 1)
		}
	}
	var ssP, ssO, ssPO float64
	for i := range parts {
		ssP += o * n * sq(parts[i]-grand)
		for j := range ops {
			ssPO += n * sq(cells[i][j]-parts[i]-ops[j]+grand)
		}
	}
	for j := range ops {
		ssO += p * n * sq(ops[j]-grand)
	}
	msP, msO, msPO, msE := ssP/(p-1), ssO/(o-1), ssPO/((p-1)*(o-1)), within/(p*o*(n-1))
	rep, inter := math.Max(msE, floor*floor), math.Max(0, (msPO-msE)/n)
	op, part := math.Max(0, (msO-msPO)/(p*n)), math.Max(0, (msP-msPO)/(o*n))
	grr := math.Sqrt(rep + inter + op)
	for name, v := range map[string]float64{
		"ms_part": msP, "ms_operator": msO, "ms_interaction": msPO, "ms_error": msE,
		"repeatability": math.Sqrt(rep), "operator": math.Sqrt(op), "interaction": math.Sqrt(inter), "grr": grr, "part": math.Sqrt(part),
	} {
		out.Set(name, v)
	}
	if in.Has("tolerance") {
		out.Set("grr_percent", 600*grr/in.Num("tolerance"))
	} else if total := math.Sqrt(grr*grr + part); total > 0 {
		out.Set("grr_percent", 100*grr/total)
	}
}

// studyRanges is the average-and-range method, the repeatability at least floor; beyond the constants' table it is left out.
func studyRanges(x [][][]float64, floor float64, out *Out) {
	p, o, n := len(x), len(x[0]), len(x[0][0])
	if max(p, o, n) > len(rangeTable())+1 {
		out.Warn("range_grr: left out, the constants go to %d parts, operators or trials", len(rangeTable())+1)
		return
	}
	meanRange := 0.0
	ops, parts := make([]float64, o), make([]float64, p)
	for i := range x {
		for j, cell := range x[i] {
			s := summarise(cell)
			meanRange += (s.greatest - s.least) / float64(p*o)
			ops[j] += s.mean / float64(p)
			parts[i] += s.mean / float64(o)
		}
	}
	so, sp := summarise(ops), summarise(parts)
	r := averageRange(meanRange, so.greatest-so.least, sp.greatest-sp.least, p, o, n)
	r.ev = math.Max(r.ev, floor)
	r.grr = math.Hypot(r.ev, r.av)
	out.Set("range_mean", meanRange)
	out.Set("range_limit", r.limit)
	out.Set("range_repeatability", r.ev)
	out.Set("range_operator", r.av)
	out.Set("range_grr", r.grr)
	out.Set("range_part", r.pv)
}

type rangeFigures struct{ limit, ev, av, grr, pv float64 }

// averageRange gives the figures from mean range, greatest difference of the operators' means and range of the parts'.
func averageRange(meanRange, operatorDiff, partRange float64, p, o, n int) rangeFigures {
	t := rangeTable()
	c := t[n-2]
	d3 := math.Sqrt(c.d2Star*c.d2Star - c.d2*c.d2)
	f := rangeFigures{limit: meanRange * (1 + 3*d3/c.d2), ev: meanRange / c.d2, pv: partRange / t[p-2].d2Star}
	f.av = math.Sqrt(math.Max(0, sq(operatorDiff/t[o-2].d2Star)-f.ev*f.ev/float64(p*n)))
	f.grr = math.Hypot(f.ev, f.av)
	return f
}

// rangeConstant: d₂ is the mean range of n standard normal values, d₂* = √(d₂² + d₃²) its root mean square, which serves
// where there is just one range. K₁ = 1/d₂, K₂ and K₃ = 1/d₂*.
type rangeConstant struct{ d2, d2Star float64 }

// rangeTable holds n = 2 … 15, computed independently by integrating the distribution of the range.
func rangeTable() []rangeConstant {
	return []rangeConstant{
		{1.1283792, 1.4142136}, {1.6925688, 1.9115404}, {2.0587507, 2.2388651}, {2.3259289, 2.4812463}, {2.5344127, 2.6725305},
		{2.7043568, 2.8298015}, {2.8472006, 2.9628829}, {2.9700263, 3.0779299}, {3.0775055, 3.1790454}, {3.1728727, 3.2690955},
		{3.2584553, 3.3501581}, {3.3359804, 3.4237853}, {3.4067631, 3.4911659}, {3.4718269, 3.5532292},
	}
}

func sq(x float64) float64 { return x * x }
