package calc

import (
	"math"

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
// Lengths in mm, angles in degrees. The closed angle is that of the line pivot to tip against the square to the stem,
// + = the tip above the pivot (towards the open air). plate is what is added under the barrel: the pushrod follows it.
// Signs: raise and lengthen are +. Straight rocker, tip as a point: with a radius pad the contact walks on the pad.
// Refused: a lift the arm cannot give, angles of 90° or more. Plane geometry; half-lift rule common practice.
func rockerGeometry() Method {
	return Method{
		Name: "rocker-geometry", Version: 1, Title: "Rocker height and pushrod length",
		Inputs: []Input{
			{Name: "valve_arm", Kind: quantity.Length, Positive: true, Doc: "pivot to tip at the valve"},
			{Name: "pushrod_arm", Kind: quantity.Length, Positive: true, Doc: "pivot to the pushrod's cup"},
			{Name: "lift", Kind: quantity.Length, Positive: true, Doc: "full lift at the valve"},
			{Name: "closed_angle", Kind: quantity.Angle, Doc: "of the valve arm with the valve closed, + = tip above the pivot"},
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
			{Name: "ratio", Kind: quantity.Number, Doc: "valve lift over pushrod lift at half lift"},
		},
		Formula:  "raise = av·(sin a0 − lift/(2·av)); pushrod = raise·(1 + ap/av)·cos lean + plate·cos lean",
		Source:   "plane geometry; half-lift rule: common practice",
		Cautions: []string{"Use light checking springs; glasses on, springs and collets fly.", "Check by hand that the rocker clears collar and cover, and that the adjuster is not at the end of its thread."},
		Compute:  computeRockerGeometry,
	}
}

func computeRockerGeometry(in Args, out *Out) error {
	av, ap, lift := in.Num("valve_arm"), in.Num("pushrod_arm"), in.Num("lift")
	closed, lean := in.Num("closed_angle"), in.Num("lean")
	if lift >= 2*av {
		return Refuse("lift", "check lift and valve_arm", "%.3f mm is more than an arm of %.3f mm can give", lift, av)
	}
	if math.Abs(closed) >= 90 {
		return Refuse("closed_angle", "give the angle against the square to the stem, as 5 deg", "%g°", closed)
	}
	if math.Abs(lean) >= 90 {
		return Refuse("lean", "give the pushrod's lean against the stem, as 8 deg", "%g°", lean)
	}
	now := math.Sin(closed * math.Pi / 180)
	if now-lift/av <= -1 {
		return Refuse("closed_angle", "check closed_angle, lift and valve_arm", "from %g° the arm cannot go down by %.3f mm", closed, lift)
	}
	wanted := lift / (2 * av)
	raise := av * (now - wanted)
	follow := raise * (1 + ap/av)
	along := (follow + in.Num("plate")) * math.Cos(lean*math.Pi/180)
	out.Set("closed_angle_wanted", math.Asin(wanted)*180/math.Pi)
	out.Set("raise_pivot", raise)
	out.Set("pushrod_change", follow)
	out.Set("pushrod_along_rod", along)
	out.Set("sweep_now", tipSweep(av, now, lift))
	out.Set("sweep_then", tipSweep(av, wanted, lift))
	out.Set("ratio", av/ap)
	out.Adjust(signedAdjustment("rocker pedestal", raise, "raise", "lower", "{direction} the rocker's pivot {amount}"))
	out.Adjust(signedAdjustment("pushrod", along, "lengthen", "shorten", "{direction} the pushrod {amount}"))
	return nil
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
