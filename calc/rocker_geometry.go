package calc

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

// rockerGeometry gives the pedestal height and the pushrod length that put the rocker square to the valve stem at half
// lift, where the tip sweeps least across the stem.
//
//	closed angle wanted φ = asin(ℓ/(2·a_v))
//	raise_pivot    = a_v·(sin a₀ − sin φ)               negative = lower
//	pushrod_change = raise_pivot·(1 + a_p/a_v)           along the stem, negative = shorter
//	pushrod_along_rod = (pushrod_change + plate)·cos lean
//	sweep = a_v·(greatest − least cosine) while the valve opens
//	ratio = a_v/a_p                                      lift ratio at half lift, both arms square
//
// With closed_angles several rockers of one shaft get one answer: raise_pivot = a_v·(mean of sin a₀ − sin φ); sweep_now and
// sweep_then are then the greatest of theirs. What they stand apart no shaft cures. Computed independently, no published
// example.
//
// Lengths in mm, angles in degrees. The closed angle is that of the line pivot to tip against the square to the stem,
// + = the tip above the pivot (towards the open air). plate is what is added under the barrel: the pushrod follows it.
// Signs: raise and lengthen are +. Straight rocker, tip as a point: with a radius pad the contact walks on the pad.
// Refused: a lift the arm cannot give, angles of 90° or more. Plane geometry; half-lift rule common practice.
func rockerGeometry() Method {
	return Method{
		Name: "rocker-geometry", Version: 2, Title: "Rocker height and pushrod length",
		Inputs: []Input{
			{Name: "valve_arm", Kind: quantity.Length, Positive: true, Doc: "pivot to tip at the valve"},
			{Name: "pushrod_arm", Kind: quantity.Length, Positive: true, Doc: "pivot to the pushrod's cup"},
			{Name: "lift", Kind: quantity.Length, Positive: true, Doc: "full lift at the valve"},
			{Name: "closed_angle", Kind: quantity.Angle, Optional: true, Doc: "of the valve arm with the valve closed, + = tip above the pivot; or closed_angles"},
			{Name: "closed_angles", Shape: List, Kind: quantity.Angle, Optional: true, Doc: "instead of closed_angle: those of all rockers on one shaft, for one answer to all"},
			{Name: "lean", Kind: quantity.Angle, Optional: true, Doc: "of the pushrod against the stem"},
			{Name: "plate", Kind: quantity.Length, Optional: true, Doc: "added under the barrel, + = thicker"},
		},
		Figures: []Figure{
			{Name: "closed_angle_wanted", Kind: quantity.Angle, Doc: "closed angle that is square at half lift"},
			{Name: "raise_pivot", Kind: quantity.Length, Doc: "pedestal, + = raise, negative = lower"},
			{Name: "pushrod_change", Kind: quantity.Length, Doc: "that follows from it, along the stem, negative = shorter"},
			{Name: "pushrod_along_rod", Kind: quantity.Length, Doc: "change of the pushrod's length, with the plate, negative = shorter"},
			{Name: "sweep_now", Kind: quantity.Length, Doc: "travel of the tip across the stem as it stands"},
			{Name: "sweep_then", Kind: quantity.Length, Doc: "and after the change"},
			{Name: "ratio", Kind: quantity.Number, Unit: ": 1", Doc: "valve lift over pushrod lift at half lift"},
			{Name: "sweeps", Kind: quantity.Length, List: true, Doc: "with closed_angles: travel of each tip as it stands"},
			{Name: "sweeps_then", Kind: quantity.Length, List: true, Doc: "with closed_angles: and after the change"},
			{Name: "apart", Kind: quantity.Angle, Doc: "with closed_angles: greatest less least, which no shaft cures"},
		},
		Formula:  "raise = av·(sin a0 − lift/(2·av)); pushrod = raise·(1 + ap/av)·cos lean + plate·cos lean",
		Source:   "plane geometry; half-lift rule: common practice",
		Cautions: []string{"Use light checking springs; glasses on, springs and collets fly.", "Check by hand that the rocker clears collar and cover, and that the adjuster is not at the end of its thread."},
		Compute:  computeRockerGeometry,
	}
}

func computeRockerGeometry(in Args, out *Out) error {
	av, ap, lift := in.Num("valve_arm"), in.Num("pushrod_arm"), in.Num("lift")
	lean := in.Num("lean")
	if lift >= 2*av {
		return Refuse("lift", "check lift and valve_arm", "%.3f mm is more than an arm of %.3f mm can give", lift, av)
	}
	if math.Abs(lean) >= 90 {
		return Refuse("lean", "give the pushrod's lean against the stem, as 8 deg", "%g°", lean)
	}
	sines, err := closedSines(in, lift/av)
	if err != nil {
		return err
	}
	now := 0.0
	for _, s := range sines {
		now += s / float64(len(sines))
	}
	wanted := lift / (2 * av)
	raise := av * (now - wanted)
	follow := raise * (1 + ap/av)
	along := (follow + in.Num("plate")) * math.Cos(lean*math.Pi/180)
	out.Set("closed_angle_wanted", math.Asin(wanted)*180/math.Pi)
	out.Set("raise_pivot", raise)
	out.Set("pushrod_change", follow)
	out.Set("pushrod_along_rod", along)
	sweeps, then := make([]float64, len(sines)), make([]float64, len(sines))
	for i, s := range sines {
		sweeps[i], then[i] = tipSweep(av, s, lift), tipSweep(av, s-now+wanted, lift)
	}
	out.Set("sweep_now", slices.Max(sweeps))
	out.Set("sweep_then", slices.Max(then))
	if angles := in.List("closed_angles"); len(angles) > 0 {
		out.SetList("sweeps", sweeps)
		out.SetList("sweeps_then", then)
		out.Set("apart", slices.Max(angles)-slices.Min(angles))
	}
	out.Set("ratio", av/ap)
	out.Adjust(signedAdjustment("rocker pedestal", raise, "raise", "lower", "{direction} the rocker's pivot {amount}"))
	out.Adjust(signedAdjustment("pushrod", along, "lengthen", "shorten", "{direction} the pushrod {amount}"))
	return nil
}

// closedSines reads the closed angle, or those of every rocker on a shaft, as sines; open is the lift over the arm.
func closedSines(in Args, open float64) ([]float64, error) {
	angles, name := in.List("closed_angles"), "closed_angles"
	switch {
	case in.Has("closed_angle") && len(angles) > 0:
		return nil, Refuse("closed_angle", "give one of the two", "it is given beside closed_angles")
	case in.Has("closed_angle"):
		angles, name = []float64{in.Num("closed_angle")}, "closed_angle"
	case len(angles) == 0:
		return nil, Refuse("closed_angle", "give the angle of the valve arm, or closed_angles of all rockers on a shaft", "neither is given")
	}
	sines := make([]float64, len(angles))
	for i, a := range angles {
		if math.Abs(a) >= 90 {
			return nil, Refuse(name, "give the angle against the square to the stem, as 5 deg", "%g°", a)
		}
		if sines[i] = math.Sin(a * math.Pi / 180); sines[i]-open <= -1 {
			return nil, Refuse(name, "check closed_angle, lift and valve_arm", "from %g° the arm cannot go down by its lift", a)
		}
	}
	return sines, nil
}

// tipSweep is the travel of the tip across the stem while an arm goes down by lift from the sine of its closed angle:
// the tip is furthest out where the arm is square to the stem, if it passes there.
func tipSweep(arm, closedSine, lift float64) float64 {
	open := closedSine - lift/arm
	cos := func(sine float64) float64 { return math.Sqrt(1 - sine*sine) }
	far := math.Max(cos(closedSine), cos(open))
	if closedSine >= 0 && open <= 0 {
		far = 1
	}
	return arm * (far - math.Min(cos(closedSine), cos(open)))
}

// signedAdjustment names the direction of a length by its sign.
func signedAdjustment(what string, amount float64, plus, minus, words string) Adjustment {
	a := Adjustment{What: what, Amount: amount, Kind: quantity.Length, Direction: plus, Answers: []string{"sweep_now", "raise_pivot", "pushrod_change"}, Words: words}
	if amount < 0 {
		a.Direction = minus
	}
	return a
}
