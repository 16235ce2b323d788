package calc

import (
	"math"
	"slices"
)

// setChainSlopes gives Run how every figure follows every reading and every angle. It leaves a tensioner's secant to
// differences.
func setChainSlopes(in Args, run chainRun, fit harmonics, tight tightSpot, out *Out) {
	if !out.wantSlopes || in.Has("setting_before") || fit.amplitude(0) == 0 || len(fit.order) > 1 && fit.amplitude(1) == 0 {
		return
	}
	angle, slack := in.List("angle"), in.List("slack")
	readings := make([][]float64, len(fit.basis.solve))
	steep := run.slopes(slack)
	for k, row := range fit.basis.solve {
		readings[k] = slices.Clone(row)
		for i := range row {
			readings[k][i] *= steep[i]
		}
	}
	least := slices.Index(slack, slices.Min(slack))
	byReading := tight.excess < tight.fitted // the tightest reading is tighter than the curve
	for input, rows := range map[string][][]float64{"slack": readings, "angle": fit.byAngle(angle)} {
		worst, place := combined(rows, fit.excessShares(tight)...), combined(rows, fit.placeShares(tight)...)
		if byReading {
			worst, place = make([]float64, len(slack)), make([]float64, len(slack))
			if input == "slack" {
				worst[least] = steep[least]
			} else {
				place[least] = 1
			}
		}
		s := out.Slopes(input)
		s.Set("mean_excess", rows[0])
		for k, figure := range []string{"rear_eccentricity", "front_eccentricity"}[:len(fit.order)] {
			s.Set(figure, combined(rows, amplitudeShares(fit, k, 1/(2*run.cos()))...))
		}
		s.Set("worst_excess", worst)
		s.Set("tight_at", place)
		one := [][]float64{worst}
		if now := run.slack(tight.excess); now > 0 {
			s.Set("tight_slack", combined(one, (tight.excess+run.straight)/now))
		}
		s.Set("move", combined(one, 1/(2*run.cos())))
		if in.Has("adjuster_pitch") {
			s.Set("turns", combined(one, 1/(2*run.cos()*in.Num("adjuster_pitch"))))
		}
	}
}

// amplitudeShares are by how much each coefficient counts in w times the k-th amplitude.
func amplitudeShares(h harmonics, k int, w float64) []float64 {
	out := make([]float64, 1+2*len(h.order))
	a := h.amplitude(k)
	out[1+2*k], out[2+2*k] = w*h.cos[k]/a, w*h.sin[k]/a
	return out
}

// excessShares are by how much each coefficient counts in the least excess: of the curve at its lowest place, which the
// samples move without changing its height, or of mean less both amplitudes.
func (h harmonics) excessShares(s tightSpot) []float64 {
	out := make([]float64, 1+2*len(h.order))
	out[0] = 1
	for k, o := range h.order {
		if len(h.order) > 1 && s.turns < manyPhases {
			out[2+2*k], out[1+2*k] = math.Sincos(s.at * o * math.Pi / 180)
			continue
		}
		for i, x := range amplitudeShares(h, k, -1) {
			out[i] += x
		}
	}
	return out
}

// placeShares are by how much each coefficient counts in the lowest place: by the implicit function of the slope there.
func (h harmonics) placeShares(s tightSpot) []float64 {
	out := make([]float64, 1+2*len(h.order))
	bend := 0.0
	for k, o := range h.order {
		w := o * math.Pi / 180
		sin, cos := math.Sincos(s.at * w)
		bend -= w * w * (h.cos[k]*cos + h.sin[k]*sin)
		out[1+2*k], out[2+2*k] = w*sin, -w*cos
	}
	for i := range out {
		out[i] /= bend
	}
	return out
}
