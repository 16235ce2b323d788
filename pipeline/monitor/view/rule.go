package view

import (
	"math"
	"strconv"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// Rule is a plain rule on which a mark stands for the part: from Least to Most in the gauge's base unit, the band where
// the part must come to rest, the place it is wanted at, and where it was last read.
type Rule struct {
	Band       bench.Band
	Kind       quantity.Kind
	Resolution float64
	Least      float64
	Most       float64
}

// ruleMargin is the free space at either end, as a share of what must be on the rule.
const ruleMargin = 0.18

func newRule(b bench.Band, kind quantity.Kind, resolution float64) *Rule {
	lo, hi := b.Target, b.Target
	for _, x := range []*float64{b.Lower, b.Upper, b.Now} {
		if x != nil {
			lo, hi = min(lo, *x), max(hi, *x)
		}
	}
	// A rule is never so short that its divisions would be finer than what can be read, or told apart at all.
	span := max(hi-lo, 10*resolution, 1e-6*(1+max(math.Abs(lo), math.Abs(hi))))
	lo, hi = (lo+hi-span)/2, (lo+hi+span)/2
	return &Rule{Band: b, Kind: kind, Resolution: resolution, Least: lo - ruleMargin*span, Most: hi + ruleMargin*span}
}

// at is the place of a value along the rule, from 0 to 1; a value beyond an end stands at the end.
func (r *Rule) at(x float64) float64 {
	return max(0, min(1, (x-r.Least)/(r.Most-r.Least)))
}

// percent writes a share as an attribute of a picture takes it.
func percent(share float64) string {
	return strconv.FormatFloat(100*share, 'f', 2, 64) + "%"
}

// BandFrom and BandWide are the band's left edge and width; an open side runs to the end of the rule.
func (r *Rule) BandFrom() string { return percent(r.bandFrom()) }

// BandWide is the band's width, never thinner than can be seen.
func (r *Rule) BandWide() string { return percent(max(r.bandTo()-r.bandFrom(), 0.008)) }

func (r *Rule) bandFrom() float64 {
	if r.Band.Lower == nil {
		return 0
	}
	return r.at(*r.Band.Lower)
}

func (r *Rule) bandTo() float64 {
	if r.Band.Upper == nil {
		return 1
	}
	return r.at(*r.Band.Upper)
}

// Target and Now are places of marks; Now is "" where nothing was read yet.
func (r *Rule) Target() string { return percent(r.at(r.Band.Target)) }

// Now is where the part was last read.
func (r *Rule) Now() string {
	if r.Band.Now == nil {
		return ""
	}
	return percent(r.at(*r.Band.Now))
}

// TargetText is the value that is wanted under the gauge.
func (r *Rule) TargetText() Text { return both(r.Band.Target, r.Kind, r.Resolution) }

// BandText says the band in words.
func (r *Rule) BandText() Text {
	lower, upper := r.Band.Lower, r.Band.Upper
	if lower != nil && upper != nil {
		a, b := both(*lower, r.Kind, r.Resolution), both(*upper, r.Kind, r.Resolution)
		return Text{MM: a.MM + " to " + b.MM, Inch: a.Inch + " to " + b.Inch}
	}
	if lower != nil {
		a := both(*lower, r.Kind, r.Resolution)
		return Text{MM: a.MM + " or more", Inch: a.Inch + " or more"}
	}
	if upper != nil {
		a := both(*upper, r.Kind, r.Resolution)
		return Text{MM: a.MM + " or less", Inch: a.Inch + " or less"}
	}
	return Text{}
}

// Tick is one division of the rule.
type Tick struct {
	X     string
	Large bool
}

// Ticks divide the rule at round values of the unit of a system: about thirty divisions, every fifth longer.
func (r *Rule) Ticks(system string) []Tick {
	unit := quantity.System(system).For(r.Kind)
	least, most := unit.FromBase(r.Least), unit.FromBase(r.Most)
	step := round125((most - least) / 30)
	if step <= 0 || math.IsInf(step, 0) || math.IsNaN(step) {
		return nil
	}
	var out []Tick
	for i := math.Ceil(least / step); i*step <= most && len(out) < 100; i++ {
		out = append(out, Tick{X: percent(r.at(unit.ToBase(i * step))), Large: math.Mod(math.Abs(i), 5) < 0.5})
	}
	return out
}

// round125 is the next of 1, 2, 5 times a power of ten.
func round125(x float64) float64 {
	if x <= 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*p >= x {
			return m * p
		}
	}
	return 10 * p
}

// Left is how a part stands to where it must come to rest.
type Left struct {
	At   string  `json:"at"`             // place of the mark along the rule
	Side string  `json:"side"`           // "before", "in", "past"
	Near float64 `json:"near"`           // 0 at the start of the move, 1 at the target: the pace of the ticks
	To   Text    `json:"to"`             // what is left to the target, without sign
	Off  string  `json:"off,omitempty"`  // "low" or "high" where the value is beyond the rule
	Aria string  `json:"aria,omitempty"` // for screen readers
}

// Stand tells how a live value stands on the rule.
func (r *Rule) Stand(x float64) Left {
	b := r.Band
	l := Left{At: percent(r.at(x)), To: both(math.Abs(b.Target-x), r.Kind, r.Resolution)}
	switch {
	case x < r.Least:
		l.Off = "low"
	case x > r.Most:
		l.Off = "high"
	}
	way := b.Target - x // the way still to go; where the start is known, its sign says whether it was passed
	from := way
	if b.Now != nil && *b.Now != b.Target {
		from = b.Target - *b.Now
	}
	in := (b.Lower == nil || x >= *b.Lower) && (b.Upper == nil || x <= *b.Upper)
	switch {
	case in:
		l.Side = "in"
	case way*from > 0:
		l.Side = "before"
	default:
		l.Side = "past"
	}
	if from != 0 {
		l.Near = max(0, min(1, 1-math.Abs(way/from)))
	}
	return l
}
