package calc

import (
	"math"

	"thoud/calc/quantity"
)

// deckHeight gives the piston's height at top dead centre in the line of its pin, where rocking does not count.
//
//	deck = (r₁·a₂ − r₂·a₁)/(a₂ − a₁)           straight line through both readings, at the pin axis
//	rock = atan((r₁ − r₂)/|a₂ − a₁|)           + = lower at reading 1
//
// Readings and arms in mm; reading + = piston below the joint face. Arms are signed from the pin axis, one each side of
// it (or one on it). Refused: both arms on one side, where the error of the line grows, or equal. Plane geometry;
// reading in the line of the pin is common practice.
func deckHeight() Method {
	return Method{
		Name: "deck-height", Version: 2, Title: "Deck height in the line of the pin",
		Inputs: []Input{
			{Name: "reading_1", Kind: quantity.Length, Doc: "+ = piston below the joint face"},
			{Name: "arm_1", Kind: quantity.Length, Doc: "distance of reading 1 from the pin axis, signed"},
			{Name: "reading_2", Kind: quantity.Length, Doc: "+ = piston below the joint face"},
			{Name: "arm_2", Kind: quantity.Length, Doc: "distance of reading 2 from the pin axis, signed, the other side"},
		},
		Figures: []Figure{
			{Name: "deck", Kind: quantity.Length, Doc: "+ = piston below the joint face"},
			{Name: "difference", Kind: quantity.Length, Doc: "reading 1 less reading 2"},
			{Name: "rock", Kind: quantity.Angle, Doc: "tilt of the crown, + = lower at reading 1"},
		},
		Formula:  "deck = (r1·a2 − r2·a1)/(a2 − a1); rock = atan((r1 − r2)/|a2 − a1|)",
		Source:   "plane geometry; common practice",
		Cautions: []string{"Turn by hand only; hold the barrel down on its joint; keep fingers out from under a barrel."},
		Compute: func(in Args, out *Out) error {
			r1, r2, a1, a2 := in.Num("reading_1"), in.Num("reading_2"), in.Num("arm_1"), in.Num("arm_2")
			if a1*a2 > 0 || a1 == a2 {
				return Refuse("arm_2", "read on both sides of the pin axis and give one arm as negative", "%g mm is on the same side as arm_1, %g mm", a2, a1)
			}
			rock := math.Atan((r1-r2)/math.Abs(a2-a1)) * 180 / math.Pi
			out.Set("deck", (r1*a2-r2*a1)/(a2-a1))
			out.Set("difference", r1-r2)
			out.Set("rock", rock)
			if math.Abs(rock) > 1 {
				out.Warn("the piston tilts by %.1f°: is it square in the bore, are the arms right?", math.Abs(rock))
			}
			return nil
		},
	}
}
