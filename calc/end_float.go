package calc

import (
	"math"

	"thoud/calc/quantity"
)

// endFloat is the distance a shaft goes between its two thrust faces, and the shims that bring it to the float wanted.
//
//	end float = |push − pull|
//
// Both readings are taken on the same face against the same zero, the shaft pushed home one way and pulled home the
// other; the float is the distance between the two rests, whichever way the display counts. Lengths in mm. With wanted
// the thickness to fit is end float − wanted (negative = to take out of what is fitted); with shims as well the stack
// is chosen as shim-stack does, for a shaft measured with no shims fitted. Refused as shim-stack; shims without wanted.
// Common practice.
func endFloat() Method {
	return Method{
		Name: "end-float", Version: 2, Title: "Crankshaft end float, and the shims for it",
		Inputs: append([]Input{
			{Name: "push", Kind: quantity.Length, Doc: "reading with the shaft pushed home"},
			{Name: "pull", Kind: quantity.Length, Doc: "reading with the shaft pulled home, same zero"},
			{Name: "wanted", Kind: quantity.Length, Optional: true, Doc: "end float wanted"},
			{Name: "shims", Shape: List, Kind: quantity.Length, Positive: true, Optional: true, Doc: "shims in stock, each as often as there are of it"},
		}, stackInputs()...),
		Figures: append([]Figure{
			{Name: "end_float", Kind: quantity.Length, Doc: "distance between the two rests"},
		}, stackFigures()...),
		Formula:  "end float = |push − pull|; stack wanted = end float − float wanted",
		Source:   "common practice",
		Cautions: shimCautions(),
		Compute:  computeEndFloat,
	}
}

func computeEndFloat(in Args, out *Out) error {
	float := math.Abs(in.Num("push") - in.Num("pull"))
	out.Set("end_float", float)
	if float == 0 {
		out.Warn("no end float at all: is the thrust taken up both ways, and the indicator free?")
	}
	if !in.Has("wanted") {
		if in.Has("shims") {
			return Refuse("wanted", "give the end float that shall be left", "shims are listed but no float is asked for")
		}
		return nil
	}
	if in.Num("wanted") < 0 {
		return Refuse("wanted", "give the end float that shall be left, 0 or more", "%.4f mm", in.Num("wanted"))
	}
	if in.Has("shims") {
		return fitStack(in, float, coverage95*in.differenceU("push", "pull"), out)
	}
	fill := float - in.Num("wanted")
	out.Set("stack_wanted", fill)
	a := Adjustment{What: "shims", Amount: fill, Kind: quantity.Length, Direction: "fit", Answers: []string{"end_float"}, Words: "{direction} {amount} of shims"}
	if fill < 0 {
		a.Direction = "remove"
		a.Words = "{direction} {amount} of the shims that are fitted"
	}
	out.Adjust(a)
	return nil
}
