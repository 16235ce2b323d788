package calc

import (
	"slices"

	"thoud/calc/quantity"
)

// spreadOfValues is how far several like values lie apart: left from right, or one valve from another.
//
//	range = greatest − least
//
// In the unit of the values. Of two values the range is their distance, whichever is the greater. Refused for fewer than
// two. Definition; the sample range of the NIST/SEMATECH e-Handbook, 1.3.5.6.
func spreadOfValues() Method {
	return Method{
		Name: "spread", Version: 1, Title: "How far like values lie apart",
		Inputs: []Input{{Name: "values", Shape: List, Kind: AnyKind, Doc: "the values to compare"}},
		Figures: []Figure{
			{Name: "range", Kind: AnyKind, Doc: "greatest less least"},
			{Name: "least", Kind: AnyKind, Doc: "smallest value"},
			{Name: "greatest", Kind: AnyKind, Doc: "largest value"},
			{Name: "greatest_at", Kind: quantity.Number, Choice: true, Doc: "which of the values is the greatest, from 1"},
		},
		Formula:  "range = greatest − least",
		Source:   "definition; NIST/SEMATECH e-Handbook, 1.3.5.6",
		Cautions: []string{"Two sides may agree and both be wrong: their own limits still count."},
		Compute: func(in Args, out *Out) error {
			x := in.List("values")
			if len(x) < 2 {
				return Refuse("values", "give at least two values", "%d value has no spread", len(x))
			}
			least, greatest := slices.Min(x), slices.Max(x)
			out.Set("range", greatest-least)
			out.Set("least", least)
			out.Set("greatest", greatest)
			out.Set("greatest_at", float64(slices.Index(x, greatest)+1))
			return nil
		},
	}
}
