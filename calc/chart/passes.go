package chart

import (
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Value is one figure as it came out: of a pass, or of a build. Value and U in the kind's base unit.
type Value struct {
	Label string    // "pass 3", "job 17"
	At    time.Time // for a history; not looked at for passes
	Value float64
	U     float64
}

// Series is a figure over passes or over time.
type Series struct {
	Title  string
	Kind   quantity.Kind
	Values []Value
	Limit  calc.Limit
	Target *float64 // that is aimed at, in the base unit; nil where nothing is
}

// Convergence draws a figure pass by pass with its uncertainty and limits; false where there is no pass.
func Convergence(s Series, sys quantity.System) (svg string, ok bool) {
	p, ok := s.picture(sys, func(i int, _ Value) float64 { return float64(i + 1) }, passes, 0.5, float64(len(s.Values))+0.5)
	if !ok {
		return "", false
	}
	return p.settle().svg(), true
}

// History draws a dimension over time in years, with its uncertainty and limits; false where there is no value. Builds so close in
// time that they would stand on one another are drawn in their order instead, each with its day.
func History(s Series, sys quantity.System) (svg string, ok bool) {
	year := func(_ int, v Value) float64 {
		return float64(v.At.Year()) + float64(v.At.YearDay()-1)/366
	}
	var xs []float64
	for i, v := range s.Values {
		xs = append(xs, year(i, v))
	}
	lo, hi := spanOf(xs...)
	if hi-lo < 0.2 {
		lo, hi = lo-0.1, hi+0.1
	}
	if crowded(xs, hi-lo) {
		return s.inOrder(sys)
	}
	p, ok := s.picture(sys, year, years, lo, hi)
	if !ok {
		return "", false
	}
	return p.settle().svg(), true
}

// leastApart is how far apart two builds stand at least, as a share of the scale: what is known of one is drawn as wide as that.
const leastApart = 0.04

func crowded(xs []float64, span float64) bool {
	xs = slices.Sorted(slices.Values(xs))
	for i := 1; i < len(xs); i++ {
		if xs[i]-xs[i-1] < leastApart*span {
			return true
		}
	}
	return false
}

// inOrder draws the builds one after the other. Their day stands on the scale where it is the same, else beside each.
func (s Series) inOrder(sys quantity.System) (svg string, ok bool) {
	const day = "2006-01-02"
	s.Values = slices.Clone(s.Values)
	slices.SortStableFunc(s.Values, func(a, b Value) int { return a.At.Compare(b.At) })
	first, last := s.Values[0].At.Format(day), s.Values[len(s.Values)-1].At.Format(day)
	scale := builds + ", all of " + first
	if first != last {
		scale = builds
		for i, v := range s.Values {
			s.Values[i].Label = strings.TrimPrefix(v.Label+", "+v.At.Format(day), ", ")
		}
	}
	p, ok := s.picture(sys, func(i int, _ Value) float64 { return float64(i + 1) }, scale, 0.5, float64(len(s.Values))+0.5)
	if !ok {
		return "", false
	}
	return p.settle().svg(), true
}

func (s Series) picture(sys quantity.System, x func(int, Value) float64, xname string, lo, hi float64) (*picture, bool) {
	if len(s.Values) == 0 {
		return nil, false
	}
	show := func(v float64) float64 { return shownIn(sys, s.Kind, v) }
	var levels []float64
	for _, v := range s.Values {
		levels = append(levels, show(v.Value-v.U), show(v.Value+v.U))
	}
	for _, l := range []*float64{s.Limit.Lower, s.Limit.Upper, s.Target} {
		if l != nil {
			levels = append(levels, show(*l))
		}
	}
	ylo, yhi := spanOf(levels...)
	p := &picture{title: s.Title, marks: make([]mark, 0, 64+6*len(s.Values))}
	a := newAxes(p, lo, hi, ylo, yhi, xname, unitName(sys, s.Kind), false)
	var pts []calc.Point
	for i, v := range s.Values {
		pts = append(pts, calc.Point{X: x(i, v), Y: show(v.Value)})
	}
	a.curve(classCurve, pts)
	named := s.named()
	for i, v := range s.Values {
		at := a.at(pts[i].X, pts[i].Y)
		if v.U > 0 {
			low, high := a.at(pts[i].X, show(v.Value-v.U)), a.at(pts[i].X, show(v.Value+v.U))
			p.line(classFrame, low, high)
			for _, e := range []xy{low, high} {
				p.line(classFrame, xy{e.x - 5, e.y}, xy{e.x + 5, e.y})
			}
		}
		p.dot(classPoint, at)
		if named(i) {
			p.note(at, s.words(v, sys, xname == passes))
		}
	}
	for _, l := range []struct {
		at    *float64
		words string
	}{{s.Limit.Lower, "lower limit"}, {s.Limit.Upper, "upper limit"}, {s.Target, "wanted"}} {
		if l.at != nil {
			a.limit(show(*l.at), l.words+" "+trim(show(*l.at)))
		}
	}
	return p, true
}

// mostNamed is at how many values each is told at its point: more texts would hide the curve and each other.
const mostNamed = 40

// named says which values are told at their points: all, or of very many the first and the last, the least and the greatest.
func (s Series) named() func(i int) bool {
	if len(s.Values) <= mostNamed {
		return func(int) bool { return true }
	}
	least, greatest := 0, 0
	for i, v := range s.Values {
		if v.Value < s.Values[least].Value {
			least = i
		}
		if v.Value > s.Values[greatest].Value {
			greatest = i
		}
	}
	return func(i int) bool { return i == 0 || i == len(s.Values)-1 || i == least || i == greatest }
}

// words is what stands at a point: the figure, and over the builds which one it is of. The passes are told by their axis.
func (s Series) words(v Value, sys quantity.System, counted bool) string {
	figure := minus(calc.ShowFigure(s.Kind, v.Value, calc.Grain{U: v.U}).In(sys))
	if counted || v.Label == "" {
		return figure
	}
	return v.Label + ": " + figure
}
