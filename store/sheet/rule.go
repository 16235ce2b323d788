package sheet

import (
	"math"

	"thoud/calc"
)

// Rule is the mark of the figures of a line against their limits, on a line from 0 to 1: brackets at the limits, a bar at each
// figure, and how far its uncertainty reaches. HasLow and HasHigh say which limits there are.
type Rule struct {
	Low, High       float64
	HasLow, HasHigh bool
	Bars            []Bar
}

// Bar is where one figure stands, and from where to where it is uncertain.
type Bar struct{ At, From, To float64 }

// Where the limits are drawn, and how near to an end a bar comes.
const (
	ruleLow, ruleHigh = 0.25, 0.75
	ruleEdge          = 0.03
)

// rule gives the mark; false where a figure has no limit, several values, or another limit than the first.
func (l line) rule() (Rule, bool) {
	var lower, upper *float64
	reach := math.SmallestNonzeroFloat64
	for i, rf := range l.Figures {
		f := rf.Figure
		if f.Limit == nil || f.Value == nil || f.Limit.Lower == nil && f.Limit.Upper == nil {
			return Rule{}, false
		}
		if i == 0 {
			lower, upper = f.Limit.Lower, f.Limit.Upper
		}
		if !sameEnd(lower, f.Limit.Lower) || !sameEnd(upper, f.Limit.Upper) {
			return Rule{}, false
		}
		for _, end := range []*float64{lower, upper} {
			if end != nil {
				reach = max(reach, math.Abs(*f.Value-*end)+f.U)
			}
		}
	}
	r := Rule{HasLow: lower != nil, HasHigh: upper != nil}
	var place func(float64) float64
	if lower != nil && upper != nil && *upper > *lower {
		r.Low, r.High = ruleLow, ruleHigh
		place = func(v float64) float64 { return ruleLow + (ruleHigh-ruleLow)*(v-*lower)/(*upper-*lower) }
	} else {
		// One limit, or two that are one: the bars as far off as shows them all.
		at, end := upper, 0.75
		if at == nil {
			at, end = lower, 0.25
		}
		r.Low, r.High = end, end
		place = func(v float64) float64 { return end + 0.68*(v-*at)/reach }
		if lower != nil && upper != nil {
			r.Low, r.High = 0.5, 0.5
			place = func(v float64) float64 { return 0.5 + 0.42*(v-*at)/reach }
		}
	}
	inside := func(v float64) float64 { return min(1-ruleEdge, max(ruleEdge, place(v))) }
	for _, rf := range l.Figures {
		v, u := *rf.Figure.Value, rf.Figure.U
		r.Bars = append(r.Bars, Bar{inside(v), inside(v - u), inside(v + u)})
	}
	return r, true
}

func sameEnd(a, b *float64) bool {
	return (a == nil) == (b == nil) && (a == nil || *a == *b)
}

// side says where a figure stands that is not in: −1 at or beyond the lower limit, 1 at or beyond the upper, 0 where that
// cannot be told.
func (f Figure) side() int {
	if f.Value == nil || f.Limit == nil {
		return 0
	}
	lower, upper := f.Limit.Lower, f.Limit.Upper
	switch {
	case lower == nil && upper == nil:
		return 0
	case upper == nil:
		return -1
	case lower == nil:
		return 1
	case *f.Value-*lower < *upper-*f.Value:
		return -1
	}
	return 1
}

// worst is the figure that gives a line its verdict.
func (l line) worst() Figure {
	for _, f := range l.Figures {
		if f.Figure.Verdict == l.Verdict() {
			return f.Figure
		}
	}
	return l.Figures[0].Figure
}

// verdictBar is where the bar of the verdict's mark stands between its brackets at 0 and 1; false where there is no verdict.
func verdictBar(v calc.Verdict, side int) (float64, bool) {
	switch v {
	case calc.VerdictIn:
		return 0.5, true
	case calc.VerdictTooClose:
		if side < 0 {
			return 0, true
		}
		return 1, true
	case calc.VerdictOut:
		if side < 0 {
			return -0.45, true
		}
		return 1.45, true
	}
	return 0, false
}
