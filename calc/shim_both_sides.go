package calc

import (
	"math"

	"thoud/calc/quantity"
)

// shimBothSides shares the shims in stock between the two sides of a shaft, for a float and for the middle.
//
//	float  = gap_left + gap_right − ΣL − ΣR
//	offset = ((gap_left − ΣL) − (gap_right − ΣR))/2      + = more room left than right
//	cost   = |float − wanted| + |offset|                  least is best
//
// Gaps are those on each side with the shaft standing where it shall run, no shims fitted. Of equal cost the more
// float, then the fewest shims, then the thickest first. least, inclusive, is the smallest float allowed. To correct an
// offset x alone move x of shim from one side to the other. Lengths in mm, held in whole tenths of a nanometre.
//
// Exact. Up to 60 shims with a common measure (0.0005 in, 0.01 mm): dynamic programming over the pairs of sums, n·(W/g)²/2
// steps with W = gaps − wanted + thickest shim, at most 512² pairs; shims without one: every sharing of up to 12 of them,
// 3^12. Anything else is refused. Common practice.
func shimBothSides() Method {
	return Method{
		Name: "shim-both-sides", Version: 2, Title: "Shims on both sides: float and middle",
		Inputs: []Input{
			{Name: "gap_left", Kind: quantity.Length, Doc: "gap on the left with the shaft where it shall run, no shims"},
			{Name: "gap_right", Kind: quantity.Length, Doc: "and on the right"},
			{Name: "shims", Shape: List, Kind: quantity.Length, Positive: true, Doc: "shims in stock, each as often as there are of it"},
			{Name: "wanted", Kind: quantity.Length, Doc: "float wanted in all"},
			{Name: "least", Kind: quantity.Length, Optional: true, Doc: "least float allowed in all, inclusive"},
		},
		Figures: []Figure{
			{Name: "left", Kind: quantity.Length, List: true, Choice: true, Doc: "shims for the left side, thickest first"},
			{Name: "right", Kind: quantity.Length, List: true, Choice: true, Doc: "shims for the right side, thickest first"},
			{Name: "float", Kind: quantity.Length, Doc: "float that is left in all"},
			{Name: "offset", Kind: quantity.Length, Doc: "of the middle, + = more room left than right"},
			{Name: "difference", Kind: quantity.Length, Doc: "gap on the left less gap on the right, as measured"},
			{Name: "cost", Kind: quantity.Length, Doc: "|float − wanted| + |offset|"},
			{Name: "count", Kind: quantity.Number, Choice: true, Unit: "shims", Doc: "number of shims"},
		},
		Formula:  "float = gL + gR − ΣL − ΣR; offset = ((gL − ΣL) − (gR − ΣR))/2",
		Source:   "common practice; exact search over whole tenths of a nanometre",
		Cautions: shimCautions(),
		Compute:  computeShimBothSides,
	}
}

func computeShimBothSides(in Args, out *Out) error {
	ask, err := readSides(in)
	if err != nil {
		return err
	}
	side, err := ask.best()
	if err != nil {
		return err
	}
	shims := in.List("shims")
	var sums [3]float64
	var pieces [3][]float64
	for _, i := range (stackAsk{pieces: ask.pieces}).order() {
		sums[side[i]] += shims[i]
		pieces[side[i]] = append(pieces[side[i]], shims[i])
	}
	left, right := in.Num("gap_left")-sums[onLeft], in.Num("gap_right")-sums[onRight]
	out.SetList("left", pieces[onLeft])
	out.SetList("right", pieces[onRight])
	out.Set("float", left+right)
	out.Set("offset", (left-right)/2)
	out.Set("difference", in.Num("gap_left")-in.Num("gap_right"))
	out.Set("cost", math.Abs(left+right-in.Num("wanted"))+math.Abs(left-right)/2)
	out.Set("count", float64(len(pieces[onLeft])+len(pieces[onRight])))
	for _, s := range []struct {
		side int
		name string
	}{{onLeft, "left"}, {onRight, "right"}} {
		a := Adjustment{What: "shims on the " + s.name, Amount: sums[s.side], Kind: quantity.Length, Direction: "fit", Pieces: pieces[s.side], Words: "{direction} {pieces} on the " + s.name + ": {amount}"}
		if len(a.Pieces) == 0 {
			a.Direction, a.Words = "none", "fit no shim on the "+s.name
		}
		out.Adjust(a)
	}
	return nil
}

func readSides(in Args) (sidesAsk, error) {
	a := sidesAsk{left: counts(in.Num("gap_left")), right: counts(in.Num("gap_right")), want: counts(in.Num("wanted")), least: counts(in.Num("least"))}
	for _, name := range []string{"gap_left", "gap_right", "wanted", "least"} {
		if in.Num(name) < 0 {
			return a, Refuse(name, "give it as 0 or more", "%.4f mm", in.Num(name))
		}
	}
	if a.least > a.want {
		return a, Refuse("least", "least must not be over the float wanted", "%.4f mm is over wanted, %.4f mm", in.Num("least"), in.Num("wanted"))
	}
	if a.left+a.right < a.least {
		return a, Refuse("gap_left", "check that the shaft is home and the thrust faces are right", "without any shim the float is %.4f mm, under the least allowed", in.Num("gap_left")+in.Num("gap_right"))
	}
	shims := in.List("shims")
	if len(shims) == 0 {
		return a, Refuse("shims", "list the shims in stock", "no shims given")
	}
	if len(shims) > maxShims {
		return a, Refuse("shims", "list those that could be fitted", "%d shims, at most %d are searched", len(shims), maxShims)
	}
	for _, s := range shims {
		if counts(s) <= 0 {
			return a, Refuse("shims", "give the thickness as measured", "a shim of %g mm is thinner than can be measured", s)
		}
		a.pieces = append(a.pieces, counts(s))
	}
	return a, nil
}
