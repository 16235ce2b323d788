package calc

import "math"

// findKinks tells corners from curvature where forward and backward difference disagree: at half the step the second
// difference of a smooth figure falls to a quarter, that of a corner does not.
func (pr *propagator) findKinks(s *source, t float64, plus, minus []float64) []bool {
	if plus == nil || minus == nil {
		return nil
	}
	suspect := false
	d2 := make([]float64, len(pr.slots))
	for j := range pr.slots {
		fwd, bwd := pr.diff(j, plus[j], pr.f0[j]), pr.diff(j, pr.f0[j], minus[j])
		if d := fwd - bwd; math.Abs(d) > 0.1*math.Max(math.Abs(fwd), math.Abs(bwd)) && math.Abs(d) > numericNoise*math.Abs(pr.f0[j]) {
			d2[j], suspect = d, true
		}
	}
	if !suspect {
		return nil
	}
	hp, _ := pr.at(s, t/2)
	hm, _ := pr.at(s, -t/2)
	kink := make([]bool, len(pr.slots))
	for j, d := range d2 {
		if d == 0 {
			continue
		}
		if hp == nil || hm == nil {
			kink[j] = true
			continue
		}
		ratio := (pr.diff(j, hp[j], pr.f0[j]) - pr.diff(j, pr.f0[j], hm[j])) / d
		kink[j] = ratio < 0.15 || ratio > 0.35
	}
	return kink
}

// pairs adds the mixed second-order terms (∂²f/∂x∂y · u(x)·u(y))².
func (pr *propagator) pairs() {
	sources := pr.sources
	for i := range sources {
		for j := i + 1; j < len(sources); j++ {
			if pr.stepped[i] == nil || pr.stepped[j] == nil {
				continue
			}
			both := joined(sources[i], sources[j])
			row, same := pr.at(&both, 1)
			if row == nil || !same {
				continue
			}
			for k := range pr.slots {
				if pr.kinked[k] {
					continue
				}
				mixed := pr.diff(k, pr.diff(k, row[k], pr.stepped[i][k]), pr.diff(k, pr.stepped[j][k], pr.f0[k]))
				if math.Abs(mixed) > numericNoise*math.Abs(pr.f0[k]) {
					pr.second[k] += mixed * mixed
				}
			}
		}
	}
}

func joined(a, b source) source {
	return source{
		nums:  append(append([]*Num(nil), a.nums...), b.nums...),
		steps: append(append([]float64(nil), a.steps...), b.steps...),
		floor: append(append([]bool(nil), a.floor...), b.floor...),
	}
}
