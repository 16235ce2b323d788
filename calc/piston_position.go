package calc

import "thoud/calc/quantity"

// pistonPosition: piston drop for a crank angle and crank angle for a drop, before and after top dead centre, with an
// offset pin where there is one. Formulas: sliderCrank. Drops in mm below the highest place, angles in degrees from it,
// both ≥ 0. Refused: an angle over 180°, a drop outside the stroke, a rod too short to turn.
func pistonPosition() Method {
	return Method{
		Name: "piston-position", Version: 1, Title: "Piston drop and crank angle",
		Inputs: append(crankInputs(false),
			Input{Name: "angle", Kind: quantity.Angle, Optional: true, Doc: "crank angle from top dead centre, 0 to 180°; both sides are answered"},
			Input{Name: "drop", Kind: quantity.Length, Optional: true, Doc: "piston below its highest place; both sides are answered"},
		),
		Figures: []Figure{
			{Name: "drop_before", Kind: quantity.Length, Doc: "drop at the angle before top dead centre"},
			{Name: "drop_after", Kind: quantity.Length, Doc: "drop at the angle after top dead centre"},
			{Name: "degrees_before", Kind: quantity.Angle, Doc: "degrees before top dead centre of the drop"},
			{Name: "degrees_after", Kind: quantity.Angle, Doc: "degrees after top dead centre of the drop"},
			{Name: "true_stroke", Kind: quantity.Length, Doc: "the piston's travel"},
			{Name: "crank_angle_at_tdc", Kind: quantity.Angle, Doc: "where the crankpin stands at top dead centre, + past the cylinder's line"},
			{Name: "tdc_to_bdc", Kind: quantity.Angle, Doc: "crank angle from top to bottom dead centre in the running direction"},
		},
		Formula: "drop(a) = yT − R·cos t − √(L² − (R·sin t − e)²), t = tT + a, sin tT = e/(L + R), yT = √((L + R)² − e²)",
		Source:  "plane geometry of the slider-crank; Heywood, Internal Combustion Engine Fundamentals, chapter 2, without offset (from memory)",
		Cautions: []string{
			"Plugs out, gearbox in neutral, ignition off; turn by hand from the crank nut only.",
			"An indicator through a plug hole that is not parallel to the bore needs its cosine.",
		},
		Compute: computePistonPosition,
	}
}

func computePistonPosition(in Args, out *Out) error {
	c, err := crankOf(in)
	if err != nil {
		return err
	}
	if !in.Has("angle") && !in.Has("drop") {
		return Refuse("angle", "give an angle, a drop, or both", "neither angle nor drop is given")
	}
	if in.Has("angle") {
		a := in.Num("angle")
		if a < 0 || a > 180 {
			return Refuse("angle", "give the degrees from top dead centre, 0 to 180; before and after are both answered", "%.3f° is outside half a turn", a)
		}
		out.Set("drop_before", c.drop(-a))
		out.Set("drop_after", c.drop(a))
	}
	if in.Has("drop") {
		if err := c.checkDrop("drop", in.Num("drop")); err != nil {
			return err
		}
		before, after := c.sides(in.Num("drop"))
		out.Set("degrees_before", before)
		out.Set("degrees_after", after)
	}
	out.Set("true_stroke", c.stroke())
	out.Set("crank_angle_at_tdc", degrees(c.top))
	out.Set("tdc_to_bdc", c.bottom())
	return nil
}
