package calc

import (
	"math"

	"thoud/calc/quantity"
)

// shimStack chooses from the shims in stock the stack that leaves the wanted float.
//
//	stack wanted S = gap − wanted
//	error     = Σ − S          + = the stack is thicker than asked for
//	resulting = gap − Σ        the float that is left
//
// Of all sets that leave float_min or more (0 where not given: shims never make a float negative, the shaft would be
// clamped) the one with the least |Σ − S|; of two equally near the one with more float; then the fewest pieces; then the
// thickest first. float_min and float_max, both inclusive, bound the resulting float. Lengths in mm, held in whole tenths
// of a nanometre while choosing, so nothing is decided by rounding. A shim listed twice is in stock twice.
//
// Exact for any stock: see stackAsk.best for the bound on time (30 shims in thou and hundredths: well under a few
// milliseconds). At most 60 shims. Refused: a float limit that excludes the wanted float, a gap that is under float_min
// without any shim, a stock from which no stack keeps the limits. A gap that is smaller than the float wanted is answered
// with no shims and a warning; a float that is smaller than the uncertainty of the gap is warned of, as it may be none.
// Arithmetic of the trade; common practice.
func shimStack() Method {
	return Method{
		Name: "shim-stack", Version: 2, Title: "Shims that leave the wanted float",
		Inputs: append([]Input{
			{Name: "gap", Kind: quantity.Length, Positive: true, Doc: "float with no shims fitted"},
			{Name: "wanted", Kind: quantity.Length, Doc: "float wanted"},
			{Name: "shims", Shape: List, Kind: quantity.Length, Positive: true, Doc: "shims in stock, each as often as there are of it"},
		}, stackInputs()...),
		Figures:  stackFigures(),
		Formula:  "stack wanted = gap − float wanted; the set of shims nearest to it, then more float, fewest pieces, thickest first",
		Source:   "common practice; exact search over whole tenths of a nanometre",
		Cautions: shimCautions(),
		Compute: func(in Args, out *Out) error {
			return fitStack(in, in.Num("gap"), coverage95*in.U("gap"), out)
		},
	}
}

// maxShims bounds a stock.
const maxShims = 60

func stackInputs() []Input {
	return []Input{
		{Name: "max_shims", Kind: quantity.Number, Optional: true, Doc: "most shims in the stack; any number where not given"},
		{Name: "float_min", Kind: quantity.Length, Optional: true, Doc: "least float allowed, inclusive; 0 where not given"},
		{Name: "float_max", Kind: quantity.Length, Optional: true, Doc: "greatest float allowed, inclusive"},
	}
}

func stackFigures() []Figure {
	return []Figure{
		{Name: "stack_wanted", Kind: quantity.Length, Doc: "thickness of shims that would leave exactly the float wanted"},
		{Name: "stack", Kind: quantity.Length, List: true, Choice: true, Doc: "the shims to fit, thickest first"},
		{Name: "sum", Kind: quantity.Length, Doc: "what they add up to"},
		{Name: "error", Kind: quantity.Length, Doc: "sum − stack wanted, + = thicker than asked for"},
		{Name: "count", Kind: quantity.Number, Choice: true, Unit: "shims", Doc: "number of shims"},
		{Name: "resulting", Kind: quantity.Length, Doc: "float that is left"},
	}
}

func shimCautions() []string {
	return []string{
		"The crankshaft is heavy and its webs pinch: lift with both hands, wooden blocks under it, no fingers between webs and case.",
		"Deburr shims and wipe the faces; measure every shim, the stamped size is only a name. Take the thrust up fully before reading.",
	}
}

// coverage95 is the coverage factor that warnings are made with: about 95 % where nothing is known of degrees of freedom.
const coverage95 = 2

// fitStack sets the figures of a stack that fills gap, which is known to ± uncertainty.
func fitStack(in Args, gap, uncertainty float64, out *Out) error {
	index, err := chooseShims(in, gap)
	if err != nil {
		return err
	}
	shims := in.List("shims")
	sum := 0.0
	pieces := make([]float64, 0, len(index))
	for _, i := range index {
		sum += shims[i]
		pieces = append(pieces, shims[i])
	}
	want := gap - in.Num("wanted")
	out.Set("stack_wanted", want)
	out.SetList("stack", pieces)
	out.Set("sum", sum)
	out.Set("error", sum-want)
	out.Set("count", float64(len(pieces)))
	out.Set("resulting", gap-sum)
	a := Adjustment{
		What: "shims", Amount: sum, Kind: quantity.Length, Direction: "fit", Pieces: pieces,
		Answers: []string{"end_float"}, // of end-float; a stack alone is always to be fitted
		Words:   "{direction} {amount} of shims: {pieces}; this leaves {figure:resulting} of float",
	}
	if len(pieces) == 0 {
		a.Direction, a.Pieces = "none", nil
		a.Words = "fit no shim: the float is {figure:resulting}"
	}
	if want < 0 {
		out.Warn("there is less float without any shim than is wanted: a thrust face has to come off, or a part is not home")
	}
	if left := gap - sum; left < uncertainty {
		out.Warn("the float left, %.4f mm, is less than the gap is known to, ± %.4f mm: the shaft may bind", left, uncertainty)
	}
	out.Adjust(a)
	return nil
}

// chooseShims gives the indices of the shims to fit, thickest first.
func chooseShims(in Args, gap float64) ([]int, error) {
	shims, wanted := in.List("shims"), in.Num("wanted")
	if len(shims) == 0 {
		return nil, Refuse("shims", "list the shims in stock", "no shims given")
	}
	if len(shims) > maxShims {
		return nil, Refuse("shims", "list those that could be fitted", "%d shims, at most %d are searched", len(shims), maxShims)
	}
	if wanted < 0 {
		return nil, Refuse("wanted", "give the float that shall be left, 0 or more", "%.4f mm", wanted)
	}
	ask, err := askForFloat(in, counts(gap))
	if err != nil {
		return nil, err
	}
	for _, s := range shims {
		if counts(s) <= 0 {
			return nil, Refuse("shims", "give the thickness as measured", "a shim of %g mm is thinner than can be measured", s)
		}
		ask.pieces = append(ask.pieces, counts(s))
	}
	if ask.most < 0 {
		return nil, Refuse("gap", "take something off a thrust face, or see that all parts are home; no shim helps",
			"the gap of %.4f mm is %.4f mm too small for the least float, %.4f mm", gap, -float64(ask.most)/quantity.PerMillimetre, in.Num("float_min"))
	}
	found, ok, err := ask.best()
	if err != nil {
		return nil, Refuse("gap", "check the units of gap and shims", "%v is not searched", err)
	}
	if !ok {
		ask.least, ask.most = 0, math.MaxInt64
		near, _, _ := ask.best()
		return nil, Refuse("shims", "add other thicknesses to the stock, or widen the limits of the float",
			"no stack of at most %d of these shims keeps the float within its limits; the nearest leaves %.4f mm", ask.max, float64(counts(gap)-near.sum)/quantity.PerMillimetre)
	}
	return found.index, nil
}

// askForFloat turns float wanted and limits of float into sums of shims.
func askForFloat(in Args, gap int64) (stackAsk, error) {
	wanted := in.Num("wanted")
	ask := stackAsk{want: gap - counts(wanted), least: 0, most: gap, max: len(in.List("shims"))}
	if in.Has("max_shims") {
		n := in.Num("max_shims")
		if n != math.Trunc(n) || n < 1 {
			return ask, Refuse("max_shims", "give a whole number, 1 or more", "%g", n)
		}
		ask.max = int(math.Min(n, float64(ask.max)))
	}
	if in.Has("float_min") {
		low := in.Num("float_min")
		if low < 0 {
			return ask, Refuse("float_min", "give the least float that may be left, 0 or more", "%.4f mm", low)
		}
		if counts(low) > counts(wanted) {
			return ask, Refuse("float_min", "wanted must lie between float_min and float_max", "%.4f mm is more than the float wanted, %.4f mm", low, wanted)
		}
		ask.most = gap - counts(low)
	}
	if in.Has("float_max") {
		high := in.Num("float_max")
		if counts(high) < counts(wanted) {
			return ask, Refuse("float_max", "wanted must lie between float_min and float_max", "%.4f mm is less than the float wanted, %.4f mm", high, wanted)
		}
		ask.least = gap - counts(high)
	}
	return ask, nil
}
