package calc

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// decide is the verdict on a value with its expanded uncertainty against limits, for a figure that comes from elsewhere.
//
//	verdict     as Decide: in, out, too close to call
//	conformity  P(lower ≤ Y ≤ upper), Y normal about the value with u = U/k
//
// In the unit of the value. ISO 14253-1:2017 for the verdict; JCGM 106:2012, 7 for the probability (both from memory).
func decide() Method {
	return Method{
		Name: "decide", Version: 1, Title: "In, out or too close to call",
		Inputs: []Input{
			{Name: "value", Kind: AnyKind, Doc: "what was measured"},
			{Name: "U", Kind: AnyKind, Doc: "its expanded uncertainty"},
			{Name: "k", Kind: quantity.Number, Positive: true, Optional: true, Doc: "coverage factor of U, 2 where not given"},
			{Name: "lower", Kind: AnyKind, Optional: true, Doc: "lower limit"},
			{Name: "upper", Kind: AnyKind, Optional: true, Doc: "upper limit"},
			{Name: "guard", Kind: quantity.Number, Optional: true, Doc: "guard band in multiples of U, 1 where not given"},
		},
		Figures: []Figure{
			{Name: "verdict", Text: true, Doc: `"in", "out" or "too close to call"`},
			{Name: "reason", Text: true, Doc: "why, and what would decide it"},
			{Name: "conformity", Kind: quantity.Number, Choice: true, Doc: "probability that the value lies within the limits"},
		},
		Formula:  "in: lower + g·U ≤ value ≤ upper − g·U; out: value < lower − g·U or value > upper + g·U",
		Source:   "ISO 14253-1:2017, JCGM 106:2012 (from memory)",
		Cautions: []string{"A verdict is as good as the limits and the uncertainty it was given."},
		Compute:  computeDecide,
	}
}

func computeDecide(in Args, out *Out) error {
	if !in.Has("lower") && !in.Has("upper") {
		return Need("lower", "a lower limit, an upper limit or both")
	}
	x, u, guard := in.Num("value"), in.Num("U"), in.NumOr("guard", 1)
	if u < 0 {
		return &InputError{"U", "a negative number", "an expanded uncertainty, zero or more"}
	}
	if guard < 0 {
		return &InputError{"guard", "a negative number", "a multiple of U, zero or more"}
	}
	var l Limit
	if in.Has("lower") {
		y := in.Num("lower")
		l.Lower = &y
	}
	if in.Has("upper") {
		y := in.Num("upper")
		l.Upper = &y
	}
	if l.Lower != nil && l.Upper != nil && *l.Lower > *l.Upper {
		return &InputError{"lower", "a limit above the upper one", "the lower limit below the upper"}
	}
	v := Decide(in.Kind("value"), x, u, l, guard)
	out.SetText("verdict", string(v))
	why := reason(in.Kind("value"), x, u, guard, v, l, Request{}, shownWith)
	if u == 0 {
		why += noUncertainty
	}
	out.SetText("reason", why)
	out.Set("conformity", conformity(x, u/in.NumOr("k", 2), l))
	return nil
}

func conformity(x, u float64, l Limit) float64 {
	below := func(limit float64) float64 {
		if u == 0 {
			if x <= limit {
				return 1
			}
			return 0
		}
		return distuv.UnitNormal.CDF((limit - x) / u)
	}
	p := 1.0
	if l.Upper != nil {
		p = below(*l.Upper)
	}
	if l.Lower != nil {
		if u == 0 {
			if x < *l.Lower {
				return 0
			}
			return p
		}
		p -= below(*l.Lower)
	}
	return math.Max(0, p)
}
