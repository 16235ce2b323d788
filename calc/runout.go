package calc

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// runout finds how far a turning surface is off its axis and where its high point is.
//
//	r(φ) = a₀ + a₁ cos φ + b₁ sin φ + a₂ cos 2φ + b₂ sin 2φ      least squares
//	eccentricity = √(a₁² + b₁²)      high point = atan2(b₁, a₁)
//	total reading = max r − min r     reading from eccentricity = 2·eccentricity
//	ovality = greatest − least diameter = 4·√(a₂² + b₂²)          (a pointer shows half of it)
//
// Readings in mm, + = the surface moved towards the indicator; angles in degrees, those at which the shaft stood under
// the indicator, so the high point is the angle at which the high side is under it. The fit needs no sector in
// particular; what was not reached is judged by how much it amplifies an error of reading, γ = √(n·λ/2), λ the larger
// eigenvalue of the block of cos φ and sin φ in (MᵀM)⁻¹: 1 for an even full turn. Over 1.5, or where a gap is wider than
// 60° and the total reading may have missed the extremes, there is a warning; over 3 it is refused. oval: false fits the
// first harmonic only, which stands a wider gap (half a turn: γ about 2) but takes form for runout. A journal rolled in a
// V-block shows form as runout: then the total reading exceeds twice the eccentricity. An eccentricity under
// three of its standard uncertainties is not told from round running: it has no high point and nothing is tapped. Plane
// geometry; common practice.
func runout() Method {
	return Method{
		Name: "runout", Version: 2, Title: "Runout, and where to tap",
		Inputs: []Input{
			{Name: "angle", Shape: List, Kind: quantity.Angle, Doc: "angle of the shaft at each reading"},
			{Name: "reading", Shape: List, Kind: quantity.Length, Doc: "indicator reading at each angle, + = surface towards the indicator"},
			{Name: "oval", Shape: Flag, Optional: true, Doc: "false fits the eccentricity alone, for a turn of which half could not be reached; true where not given"},
		},
		Figures: []Figure{
			{Name: "total_reading", Kind: quantity.Length, Doc: "largest − smallest reading"},
			{Name: "eccentricity", Kind: quantity.Length, Doc: "distance of the surface's centre from the axis"},
			{Name: "high_point", Kind: quantity.Angle, Doc: "angle at which the high side is under the indicator"},
			{Name: "ovality", Kind: quantity.Length, Doc: "greatest − least diameter, from the second harmonic"},
			{Name: "reading_from_eccentricity", Kind: quantity.Length, Doc: "total reading that the eccentricity alone gives"},
		},
		Formula:  "r = a0 + a1 cos φ + b1 sin φ + a2 cos 2φ + b2 sin 2φ; eccentricity = √(a1² + b1²); high point = atan2(b1, a1)",
		Source:   "plane geometry, least squares; common practice",
		Cautions: []string{"The crankshaft is heavy and its webs pinch: lift with both hands, wooden blocks, no fingers between webs and case.", "Take the indicator away before tapping; glasses on; tap with a soft hammer."},
		Compute:  computeRunout,
	}
}

func computeRunout(in Args, out *Out) error {
	angle, reading := in.List("angle"), in.List("reading")
	if err := checkTurn(in, "angle", "reading", 360); err != nil {
		return err
	}
	oval := !in.Has("oval") || in.Flag("oval")
	h, gamma, err := fitRunout(angle, reading, oval)
	if err != nil {
		return err
	}
	total := slices.Max(reading) - slices.Min(reading)
	e := h.amplitude(0)
	fit := Fit{
		Figures:   []string{"total_reading", "eccentricity", "high_point", "ovality", "reading_from_eccentricity"},
		Residuals: h.residual, Unknowns: 1 + 2*len(h.order),
		Readings: []Measured{{Input: "reading"}}, Against: []Measured{{Input: "angle", Slope: h.slopes(angle)}},
	}
	out.Fit(fit)
	setRunoutSlopes(out, h, angle, reading)
	s := in.OneReading(fit)
	told := e > 0 && e >= leastTold*s*h.amplitudeU(0)
	out.Set("total_reading", total)
	out.Set("eccentricity", e)
	if told {
		out.Set("high_point", h.peak(0))
	} else if e > 0 {
		out.Warn("the readings do not tell this from round running: %s mm off centre, known to no better than %s mm", brief(e), brief(2*s*h.amplitudeU(0)))
	}
	if oval {
		out.Set("ovality", 4*h.amplitude(1))
	}
	out.Set("reading_from_eccentricity", 2*e)
	if gap := widestGap(angle, 360); gap > 60 {
		out.Warn("%.0f° were not read: the total reading may have missed the high or the low side; go by the eccentricity", gap)
	}
	if gamma > muchAmplified {
		out.Warn("the sector that was not read makes an error of reading count %.1f times in the eccentricity: read more of the turn if it can be reached", gamma)
	}
	if oval && h.amplitude(1) > e && e > 0 {
		out.Warn("the surface is more oval than it is off centre: look at the journal before the shaft is moved")
	}
	if total < meanRange(len(reading))*s {
		out.Warn("the total reading is no more than the scatter of %d readings makes by itself", len(reading))
	}
	a := Adjustment{
		What: "shaft", Amount: e, Kind: quantity.Length, Direction: "away_from_the_indicator",
		Answers: []string{"total_reading", "eccentricity", "reading_from_eccentricity"},
		Words:   "turn the shaft to {figure:high_point}, high side under the indicator, and tap it {direction} by {amount}",
	}
	if !told {
		a.Direction, a.Words = "none", "leave it: it runs true as far as these readings can tell"
	}
	out.Adjust(a)
	return nil
}

// setRunoutSlopes gives how each figure follows each reading and each angle.
func setRunoutSlopes(out *Out, h harmonics, angle, reading []float64) {
	e := h.amplitude(0)
	if e == 0 || len(h.order) > 1 && h.amplitude(1) == 0 {
		return // the differences have to do
	}
	for input, rows := range map[string]func() [][]float64{"reading": func() [][]float64 { return h.basis.solve }, "angle": func() [][]float64 { return h.byAngle(angle) }} {
		s := out.Slopes(input)
		if s == nil {
			return
		}
		of := rows()
		c, d := h.cos[0]/e, h.sin[0]/e
		s.Set("eccentricity", combined(of, 0, c, d))
		s.Set("reading_from_eccentricity", combined(of, 0, 2*c, 2*d))
		s.Set("high_point", combined(of, 0, -d/e*180/math.Pi, c/e*180/math.Pi))
		if len(h.order) > 1 {
			o := h.amplitude(1)
			s.Set("ovality", combined(of, 0, 0, 0, 4*h.cos[1]/o, 4*h.sin[1]/o))
		}
		if input == "reading" {
			total := make([]float64, len(reading))
			total[slices.Index(reading, slices.Max(reading))]++
			total[slices.Index(reading, slices.Min(reading))]--
			s.Set("total_reading", total)
		}
	}
}

// leastTold is how many standard uncertainties an eccentricity must be for its direction to say anything.
const leastTold = 3

// meanRange is d₂, the mean range of n readings of unit scatter, to about 1 %.
func meanRange(n int) float64 {
	return 2 * distuv.UnitNormal.Quantile(math.Pow(0.5264, 1/float64(n)))
}

// fitRunout fits one or two harmonics and gives the amplification of the first.
func fitRunout(angle, reading []float64, oval bool) (harmonics, float64, error) {
	need, orders := 5, []float64{1, 2}
	if !oval {
		need, orders = 3, orders[:1]
	}
	if n := distinctAngles(angle); n < need {
		return harmonics{}, 0, Refuse("angle", "read at 8 places around the turn", "%d different angles, at least %d are needed", n, need)
	}
	b, err := harmonicBasisWithin(singular, angle, orders...)
	worst := math.Inf(1)
	if err == nil {
		worst = 0
		for k := range orders {
			worst = math.Max(worst, b.amplification(k))
		}
	}
	if worst <= tooMuchAmplified {
		return b.fit(reading), b.amplification(0), nil
	}
	why := fmt.Sprintf("an error of reading would count %.1f times", worst)
	if err != nil {
		why = "the readings do not tell them apart at all"
	}
	if oval {
		return harmonics{}, 0, Refuse("angle", "read more of the turn, at 8 places or more, or give oval: false to find the eccentricity alone", "from these angles runout and ovality cannot both be told: %s", why)
	}
	return harmonics{}, 0, Refuse("angle", "read more of the turn", "from these angles the runout cannot be told: %s", why)
}

// checkTurn refuses lists that do not match or that leave a gap wider than allowed on the circle of 360°.
func checkTurn(in Args, angles, readings string, widest float64) error {
	a, r := in.List(angles), in.List(readings)
	if len(a) == 0 {
		return Refuse(angles, "give one angle for each reading", "no angles")
	}
	if len(a) != len(r) {
		return Refuse(angles, "give one angle for each reading", "%d angles for %d readings", len(a), len(r))
	}
	if gap := widestGap(a, 360); gap > widest+1e-9 {
		return Refuse(angles, "turn on and read in the gap as well", "the widest gap is %.1f°, at most %.0f° is accepted", gap, widest)
	}
	return nil
}

// distinctAngles counts the angles that differ by more than a hundredth of a degree on the circle.
func distinctAngles(angles []float64) int {
	a := make([]float64, len(angles))
	for i, x := range angles {
		a[i] = wrap(x, 360)
	}
	slices.Sort(a)
	n := 0
	for i, x := range a {
		if i == 0 || x-a[i-1] > 0.01 {
			n++
		}
	}
	if n > 1 && math.Abs(a[0]+360-a[len(a)-1]) <= 0.01 {
		n--
	}
	return n
}
