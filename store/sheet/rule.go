package sheet

import "math"

// Rule is the mark of a figure against its limits, on a line from 0 to 1: where the wanted band lies, where the figure
// stands, and how far its uncertainty reaches. Band ends at 0 or 1 where it has no limit on that side.
type Rule struct {
	BandLow, BandHigh float64
	At, Low, High     float64
}

// Where the limits are drawn.
const (
	bandLow, bandHigh = 0.25, 0.75
	edge              = 0.03
)

// rule gives the mark; false for a figure without a limit or of several values.
func rule(f Figure) (Rule, bool) {
	if f.Limit == nil || f.Value == nil || f.Limit.Lower == nil && f.Limit.Upper == nil {
		return Rule{}, false
	}
	x, lower, upper := *f.Value, f.Limit.Lower, f.Limit.Upper
	var place func(float64) float64
	r := Rule{BandLow: 0, BandHigh: 1}
	switch {
	case lower != nil && upper != nil && *upper > *lower:
		place = func(v float64) float64 { return bandLow + (bandHigh-bandLow)*(v-*lower)/(*upper-*lower) }
		r.BandLow, r.BandHigh = bandLow, bandHigh
	default:
		// One limit, or two that are one: it stands in the middle, and the figure as far off as the doubt allows to show.
		at := upper
		if at == nil {
			at = lower
		}
		reach := max(math.Abs(x-*at)+f.U, math.SmallestNonzeroFloat64)
		place = func(v float64) float64 { return 0.5 + 0.42*(v-*at)/reach }
		if upper != nil {
			r.BandHigh = 0.5
		}
		if lower != nil {
			r.BandLow = 0.5
		}
	}
	inside := func(v float64) float64 { return min(1-edge, max(edge, place(v))) }
	r.At, r.Low, r.High = inside(x), inside(x-f.U), inside(x+f.U)
	return r, true
}
