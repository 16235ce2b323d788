package view

import (
	"math"
	"strconv"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// Rule is the verdict's mark laid along the way the part moves: brackets for the limits, a stroke for the place wanted, a
// bar for the part. It stands upright, more at the top. It shows the values from Least to Most; where the part was read
// farther off, the rule is broken on that side and the part stands at its end.
type Rule struct {
	Band       bench.Band
	Kind       quantity.Kind
	Resolution float64
	Least      float64
	Most       float64
	Up, Down   string // words at the ends, "away from the cam"
	BrokenUp   bool
	BrokenDown bool
}

// The rule is drawn in a box of 330 by 830: the axis from ruleTop down to ruleFoot.
const (
	ruleTop  = 70.0
	ruleFoot = 760.0
)

// Shares of the rule's length.
const (
	ruleMargin  = 0.15  // free beyond what must be on it
	ruleLeast   = 0.125 // that the band has at least
	ruleAfter   = 0.25  // beyond the band, where the rule is broken on the side the part comes from
	ruleOneSide = 40    // of a limit alone: the rule is this many counts of the gauge at least
)

// newRule lays out the rule of a band.
func newRule(b bench.Band, kind quantity.Kind, resolution float64, up, down string) *Rule {
	r := &Rule{Band: b, Kind: kind, Resolution: resolution, Up: up, Down: down}
	lo, hi := b.Target, b.Target
	for _, x := range []*float64{b.Lower, b.Upper} {
		if x != nil {
			lo, hi = min(lo, *x), max(hi, *x)
		}
	}
	band := hi - lo
	// A rule is never so short that its divisions would be finer than what can be read, or told apart at all.
	least := max(10*resolution, 1e-6*(1+max(math.Abs(lo), math.Abs(hi))))
	if b.Lower == nil || b.Upper == nil {
		least = max(least, ruleOneSide*resolution)
	}
	from := lo
	if b.Now != nil {
		from = *b.Now
	}
	most := band / ruleLeast // a longer rule would make the band too small to be seen
	need := max(hi, from) - min(lo, from)
	switch {
	case most > least && need*(1+2*ruleMargin) > most && from > hi:
		r.Least, r.BrokenUp = lo-ruleAfter*most, true
		r.Most = r.Least + most
	case most > least && need*(1+2*ruleMargin) > most && from < lo:
		r.Most, r.BrokenDown = hi+ruleAfter*most, true
		r.Least = r.Most - most
	default:
		span := max(need, least)
		mid := (max(hi, from) + min(lo, from)) / 2
		// The band has as much room on its far side as it is wide, so that going past it can be seen.
		r.Least, r.Most = mid-span/2-ruleMargin*span, mid+span/2+ruleMargin*span
		room := max(band, least/4)
		r.Least, r.Most = min(r.Least, lo-room), max(r.Most, hi+room)
	}
	return r
}

// y is the place of a value on the axis; a value beyond an end stands at the end.
func (r *Rule) y(x float64) float64 {
	return ruleFoot - (ruleFoot-ruleTop)*max(0, min(1, (x-r.Least)/(r.Most-r.Least)))
}

// px writes a place as an attribute of a picture takes it.
func px(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

// bandTop and bandFoot are where the band ends on the axis; an open side runs to the end of the rule.
func (r *Rule) bandTop() float64 {
	if r.Band.Upper == nil {
		return ruleTop
	}
	return r.y(*r.Band.Upper)
}

func (r *Rule) bandFoot() float64 {
	if r.Band.Lower == nil {
		return ruleFoot
	}
	return r.y(*r.Band.Lower)
}

// BandY and BandHigh are the field of the band, never thinner than can be seen.
func (r *Rule) BandY() string { return px(r.bandTop()) }

// BandHigh is how high it is.
func (r *Rule) BandHigh() string { return px(max(r.bandFoot()-r.bandTop(), 6)) }

// UpperY and LowerY are where the brackets stand, "" where there is no limit on that side.
func (r *Rule) UpperY() string {
	if r.Band.Upper == nil {
		return ""
	}
	return px(r.y(*r.Band.Upper))
}

// LowerY is the lower bracket.
func (r *Rule) LowerY() string {
	if r.Band.Lower == nil {
		return ""
	}
	return px(r.y(*r.Band.Lower))
}

// TargetY is where the part is wanted.
func (r *Rule) TargetY() string { return px(r.y(r.Band.Target)) }

// Label is a figure beside the rule.
type Label struct {
	Y     string
	Text  Text
	Class string // "limit" or "want"
}

// labelApart is how far apart two figures must be so that they do not touch.
const labelApart = 54.0

// Labels are the figures of limits and target, moved apart where they would touch. A target that is a limit itself is
// written once.
func (r *Rule) Labels() []Label {
	want := r.y(r.Band.Target)
	out := []Label{{Y: px(want + 18), Text: r.short(r.Band.Target), Class: "want"}}
	if u := r.Band.Upper; u != nil && *u != r.Band.Target {
		out = append(out, Label{Y: px(min(r.y(*u), want-labelApart) + 16), Text: r.shortLimit(*u, false), Class: "limit"})
	}
	if l := r.Band.Lower; l != nil && *l != r.Band.Target {
		out = append(out, Label{Y: px(max(r.y(*l), want+labelApart) + 16), Text: r.shortLimit(*l, true), Class: "limit"})
	}
	return out
}

// short prints a value for the rule: without its unit, which the large figure has, and in inches without the nought
// before the point.
func (r *Rule) short(x float64) Text { return shortened(both(x, r.Kind, r.Resolution)) }

// shortLimit prints a limit for the rule: rounded into the band, so that what is shown as allowed is allowed.
func (r *Rule) shortLimit(x float64, lower bool) Text {
	return shortened(calc.ShowLimitRead(r.Kind, x, r.Resolution, lower))
}

func shortened(t Text) Text {
	cut := func(s string) string {
		s, _, _ = strings.Cut(s, " ")
		return strings.ReplaceAll(s, "-", "−")
	}
	return Text{MM: cut(t.MM), Inch: strings.Replace(strings.Replace(cut(t.Inch), "−0.", "−.", 1), "0.", ".", boolInt(strings.HasPrefix(t.Inch, "0.")))}
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Ticks are the divisions at round values of the unit of a system, as a path.
func (r *Rule) Ticks(system string) string {
	unit := quantity.System(system).For(r.Kind)
	least, most := unit.FromBase(r.Least), unit.FromBase(r.Most)
	step := round125((most - least) / 25)
	if step <= 0 || math.IsInf(step, 0) || math.IsNaN(step) {
		return ""
	}
	var b strings.Builder
	n := 0
	for i := math.Ceil(least / step); i*step <= most && n < 100; i++ {
		from := "100"
		if math.Mod(math.Abs(i), 5) < 0.5 {
			from = "90"
		}
		b.WriteString("M" + from + " " + px(r.y(unit.ToBase(i*step))) + "H112")
		n++
	}
	return b.String()
}

// round125 is the next of 1, 2, 5 times a power of ten.
func round125(x float64) float64 {
	if x <= 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5, 10} {
		if m*p >= x*(1-1e-12) {
			return m * p
		}
	}
	return 10 * p
}

// WantedText is the value wanted under the gauge, with its unit.
func (r *Rule) WantedText() Text { return both(r.Band.Target, r.Kind, r.Resolution) }

// Says is the rule in words, for those who cannot see it.
func (r *Rule) Says() Text {
	one := func(of func(Text) string) string {
		s := "Rule: wanted " + of(r.short(r.Band.Target))
		if r.Band.Lower != nil {
			s += ", from " + of(r.shortLimit(*r.Band.Lower, true))
		}
		if r.Band.Upper != nil {
			s += ", to " + of(r.shortLimit(*r.Band.Upper, false))
		}
		return s + "; up is " + r.Up + ", down is " + r.Down
	}
	return Text{MM: one(func(t Text) string { return t.MM }), Inch: one(func(t Text) string { return t.Inch })}
}
