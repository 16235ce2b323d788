package calc

import "thoud/calc/quantity"

// centreLine gives the height at which to scribe a centre line, and how far a line already there is off.
//
//	scribe height = (from_bottom + (thickness − from_top))/2 where all are read, else thickness/2,
//	                thickness = from_top + from_bottom where only those are read
//	off centre    = (from_bottom − from_top)/2      + = too near the top
//
// mm, heights from the base face. Both distances are measured to the same line or hole, one from each face. Refused:
// distances that do not add up to the thickness within 0.5 mm. Arithmetic.
func centreLine() Method {
	return Method{
		Name: "centre-line", Version: 1, Title: "Centre line of a block",
		Inputs: []Input{
			{Name: "thickness", Kind: quantity.Length, Positive: true, Optional: true, Doc: "of the block between its faces"},
			{Name: "from_top", Kind: quantity.Length, Positive: true, Optional: true, Doc: "from the top face to the line or hole"},
			{Name: "from_bottom", Kind: quantity.Length, Positive: true, Optional: true, Doc: "from the base face to the same"},
		},
		Figures: []Figure{
			{Name: "scribe_height", Kind: quantity.Length, Doc: "height to scribe at, from the base face"},
			{Name: "off_centre", Kind: quantity.Length, Doc: "how far the line is off the middle, + = too near the top"},
		},
		Formula:  "scribe height = (from_bottom + thickness − from_top)/2, else thickness/2; off centre = (from_bottom − from_top)/2",
		Source:   "arithmetic",
		Cautions: []string{"Clamp the block before it is centre-punched or drilled; glasses on."},
		Compute:  computeCentreLine,
	}
}

func computeCentreLine(in Args, out *Out) error {
	top, bottom := in.Has("from_top"), in.Has("from_bottom")
	switch {
	case top != bottom && top:
		return Need("from_bottom", "the distance from the base face, as from_top is given")
	case top != bottom:
		return Need("from_top", "the distance from the top face, as from_bottom is given")
	case !top && !in.Has("thickness"):
		return Need("thickness", "the thickness, or from_top and from_bottom")
	case !top:
		out.Set("scribe_height", in.Num("thickness")/2)
		return nil
	}
	t, b := in.Num("from_top"), in.Num("from_bottom")
	out.Set("off_centre", (b-t)/2)
	if !in.Has("thickness") {
		out.Set("scribe_height", (t+b)/2)
		return nil
	}
	thickness := in.Num("thickness")
	if miss := t + b - thickness; miss > 0.5 || miss < -0.5 {
		return Refuse("thickness", "measure all three again", "%.3f mm, but the distances from the two faces add up to %.3f mm", thickness, t+b)
	}
	out.Set("scribe_height", (b+thickness-t)/2)
	return nil
}
