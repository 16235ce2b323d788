package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// indicatorTravel turns two displays of an indicator into the surface's movement along the wanted direction.
//
//	plunger, or a short lever   d = s·(reading − zero)·cos(misalignment)
//	lever over a long arc       d = ℓ·(sin(start + x/ℓ) − sin start), x = s·(reading − zero)
//
// mm and degrees; + = the surface moved towards the indicator; s = +1 where the display grows as the contact is pushed in.
// The cosine multiplies: the display runs ahead of the surface. misalignment is between a lever and the surface, or
// between a plunger and the surface's normal (plain ball on a plane). Refused: a misalignment of 90° or more, a lever
// swung past square. Plane geometry.
func indicatorTravel() Method {
	return Method{
		Name: "indicator-travel", Version: 1, Title: "Indicator reading to movement",
		Inputs: []Input{
			{Name: "reading", Kind: quantity.Length, Doc: "display now"},
			{Name: "zero", Kind: quantity.Length, Doc: "display at the datum"},
			{Name: "sense", Kind: quantity.Number, Optional: true, Doc: "1 where the display grows as the contact is pushed in (usual), −1 where it falls"},
			{Name: "misalignment", Kind: quantity.Angle, Optional: true, Doc: "angle between lever and surface, or plunger and the surface's normal"},
			{Name: "lever_length", Kind: quantity.Length, Positive: true, Optional: true, Doc: "length of the lever, with start_angle instead of misalignment"},
			{Name: "start_angle", Kind: quantity.Angle, Optional: true, Doc: "angle of the lever to the surface at the datum, growing with the movement"},
		},
		Figures:  []Figure{{Name: "displacement", Kind: quantity.Length, Doc: "movement of the surface, + = towards the indicator"}},
		Formula:  "d = s·(reading − zero)·cos(misalignment); lever: d = l·(sin(start + x/l) − sin(start))",
		Source:   "plane geometry",
		Cautions: []string{"Fingers and loose sleeves away while the engine is turned by hand.", "Take the plugs out first, so that it cannot kick over compression.", "An indicator in a plug hole comes out before the starter is used."},
		Compute:  computeIndicatorTravel,
	}
}

func computeIndicatorTravel(in Args, out *Out) error {
	sense := in.NumOr("sense", 1)
	if sense != 1 && sense != -1 {
		return &InputError{"sense", fmt.Sprint(sense), "1 or −1"}
	}
	x := sense * (in.Num("reading") - in.Num("zero"))
	if in.Has("lever_length") || in.Has("start_angle") {
		return leverTravel(in, out, x)
	}
	angle := in.Num("misalignment")
	if math.Abs(angle) >= 90 {
		return Refuse("misalignment", "set the indicator along the movement", "%.1f° shows no movement along the wanted direction", angle)
	}
	if math.Abs(angle) > 8 {
		out.Warn("misalignment: %.1f° makes a cosine error of over 1 %%; it is allowed for, but set the indicator truer if you can", angle)
	}
	out.Set("displacement", x*cosDeg(angle))
	return nil
}

func leverTravel(in Args, out *Out, x float64) error {
	switch {
	case in.Has("misalignment"):
		return &InputError{"misalignment", "a value beside lever_length and start_angle", "one or the other"}
	case !in.Has("lever_length"):
		return Need("lever_length", "the lever's length, with start_angle")
	case !in.Has("start_angle"):
		return Need("start_angle", "the lever's angle at the datum, with lever_length")
	}
	l, start := in.Num("lever_length"), in.Num("start_angle")
	end := start + x/l*180/math.Pi
	if math.Abs(start) >= 90 || math.Abs(end) >= 90 {
		return Refuse("start_angle", "set the lever flatter to the surface", "the lever swings from %.1f° to %.1f°, past square to the surface", start, end)
	}
	out.Set("displacement", l*(sinDeg(end)-sinDeg(start)))
	return nil
}
