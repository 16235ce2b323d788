package calc

import (
	"math"
	"strconv"

	"thoud/calc/quantity"
)

// ShowLimitsRead prints a band as it is looked for under a gauge: a limit with more places than the gauge's step can show is
// rounded inwards to that step. The band itself is not changed by it, and where the rounded one would have nothing in it, or would
// leave out a value that is in, it is printed as it is. value may be nil; step is in the kind's base unit, 0 where it is not known.
func ShowLimitsRead(kind quantity.Kind, l Limit, step float64, value *float64) Shown {
	exact := ShowLimits(kind, l)
	if !(step > 0) || kind != quantity.Length && kind != quantity.Angle {
		return exact
	}
	return inBoth(func(sys quantity.System) string {
		u := sys.For(kind)
		division, places := divisionIn(u, step)
		r := Limit{Lower: inward(u, division, l.Lower, true), Upper: inward(u, division, l.Upper, false)}
		if decimalsOf(exact.In(sys)) <= places || !holds(r, l, value) {
			return exact.In(sys)
		}
		text := func(x float64) string { return unitAfter(numberIn(u, x, places), u) }
		switch {
		case r.Lower == nil:
			return "at most " + text(*r.Upper)
		case r.Upper == nil:
			return "at least " + text(*r.Lower)
		}
		return fromTo(text(*r.Lower), text(*r.Upper))
	})
}

// ShowLimitRead prints one limit of a band in the same way, for a mark beside the way a part moves.
func ShowLimitRead(kind quantity.Kind, x, step float64, lower bool) Shown {
	return inBoth(func(sys quantity.System) string {
		u := sys.For(kind)
		if !(step > 0) {
			return showFigure(kind, sys, x, Grain{})
		}
		_, places := divisionIn(u, step)
		return unitAfter(numberIn(u, *inward(u, math.Pow10(-places), &x, lower), places), u)
	})
}

// divisionIn is a gauge's step in a unit, and the places that show it: half a thou is 0.0005 in; of a step that is no round
// number there, the place that it is read to: 0.01 mm.
func divisionIn(u quantity.Unit, step float64) (division float64, places int) {
	d := step / u.Size
	places = max(0, resolutionPlaces(d))
	if s, ok := shortDecimal(d, places); ok {
		d, _ = strconv.ParseFloat(s, 64)
		return d, places
	}
	return math.Pow10(-places), places
}

// inward rounds a limit to a division, into the band.
func inward(u quantity.Unit, division float64, x *float64, lower bool) *float64 {
	if x == nil {
		return nil
	}
	n := u.FromBase(*x) / division
	if lower {
		n = math.Ceil(n - 1e-6)
	} else {
		n = math.Floor(n + 1e-6)
	}
	y := u.ToBase(n * division)
	return &y
}

// holds reports whether a rounded band can stand for the band: something is in it, and a value that was in still is.
func holds(r, l Limit, value *float64) bool {
	switch {
	case r.Lower != nil && r.Upper != nil && *r.Lower >= *r.Upper, r.Lower == nil && *r.Upper == 0, r.Upper == nil && *r.Lower == 0:
		return false
	case value == nil:
		return true
	}
	in := func(b Limit) bool {
		return (b.Lower == nil || *value >= *b.Lower) && (b.Upper == nil || *value <= *b.Upper)
	}
	return in(r) == in(l)
}
