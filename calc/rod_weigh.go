package calc

import (
	"math"

	"thoud/calc/quantity"
)

// rodWeigh checks the two weighings of a rod's ends against its whole mass.
//
//	closure = small + big − total
//
// Masses in g. The rod lies level, one end on a pivot and the other on the scale. Refused where the closure is more than
// 1 g and more than four times its uncertainty: then the rod lay at an angle or on the wrong point, and neither end can
// be used. Statics; common practice.
func rodWeigh() Method {
	return Method{
		Name: "rod-weigh", Version: 1, Title: "Closure of a rod's two weighings",
		Inputs: []Input{
			{Name: "small", Kind: quantity.Mass, Positive: true, Doc: "small end on the scale, big end on the pivot"},
			{Name: "big", Kind: quantity.Mass, Positive: true, Doc: "big end on the scale, small end on the pivot"},
			{Name: "total", Kind: quantity.Mass, Positive: true, Doc: "the whole rod"},
		},
		Figures:  []Figure{{Name: "closure", Kind: quantity.Mass, Doc: "small + big − total, near 0"}},
		Formula:  "closure = small + big − total",
		Source:   "statics; common practice",
		Cautions: []string{"Drain the rod of oil before weighing."},
		Compute: func(in Args, out *Out) error {
			closure := in.Num("small") + in.Num("big") - in.Num("total")
			u := math.Sqrt(square(in.U("small")) + square(in.U("big")) + square(in.U("total")))
			if limit := math.Max(1, 4*u); math.Abs(closure) > limit*(1+1e-12) {
				return Refuse("total", "lay the rod level, pivot in the middle of each eye, and weigh again",
					"the ends add up to %+.2f g against the whole, at most %.2f g is accepted", closure, limit)
			}
			out.Set("closure", closure)
			return nil
		},
	}
}

func square(x float64) float64 { return x * x }
