// Package chart draws results as pictures: bore maps, cam lift, clearance over the crank, chain slack around the turn,
// roundness, the passes of a step and the history of a dimension. An SVG carries classes and no styles of its own, so that
// a page under a strict content security policy can style it; Standalone adds a style sheet that also reads in print.
// It draws; it computes nothing that a result does not say.
package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Size of every picture, in its own units.
const (
	width  = 720
	height = 420
	left   = 78
	right  = 24
	top    = 44
	bottom = 56
)

// Ceiling and Floor are where the frame of a picture begins and ends, of Height: above it stands the title, below it the numbers
// and the name of the level scale. Who presses a picture flat presses the letters above and below it less.
const Ceiling, Floor, Height = top, height - bottom, height

// Classes of marks. A style sheet gives them their look; without colour they differ by dashes and width.
const (
	classFrame = "frame"
	classGrid  = "grid"
	classLabel = "label"
	classTitle = "title"
	classCurve = "curve"
	classOther = "curve other"
	classThird = "curve third"
	classPoint = "point"
	classEvent = "event"
	classLimit = "limit"
	classNote  = "note"
	// classLeader is the thin line from a note to what it is about.
	classLeader = "leader"
)

// anchor is the end of a text that stands at its point.
type anchor string

const (
	start  anchor = "start"
	middle anchor = "middle"
	end    anchor = "end"
)

type xy struct{ x, y float64 }

// mark is one thing drawn: a line through points, a dot where there is one point, or a text.
type mark struct {
	class  string
	points []xy
	closed bool
	text   string
	anchor anchor
	room   box // of the text
}

// picture is a drawing in picture units, y downwards.
type picture struct {
	title string
	marks []mark
	notes []note // that have no place yet
}

func (p *picture) line(class string, pts ...xy) {
	if len(pts) > 1 {
		p.marks = append(p.marks, mark{class: class, points: pts})
	}
}

func (p *picture) loop(class string, pts []xy) {
	p.marks = append(p.marks, mark{class: class, points: pts, closed: true})
}

func (p *picture) dot(class string, at xy) {
	p.marks = append(p.marks, mark{class: class, points: []xy{at}})
}

func (p *picture) text(class string, at xy, a anchor, s string) {
	p.marks = append(p.marks, mark{class: class, points: []xy{at}, text: s, anchor: a, room: boxOf(at, a, s)})
}

// scale maps values to picture units.
type scale struct {
	min, max float64
	from, to float64
}

func (s scale) at(v float64) float64 { return s.from + (v-s.min)/(s.max-s.min)*(s.to-s.from) }

// spanOf is the range of values with a little air; a range of nothing gets one of its own.
func spanOf(values ...float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if math.IsInf(lo, 0) || math.IsNaN(lo) || math.IsNaN(hi) {
		return 0, 1
	}
	air := 0.06 * (hi - lo)
	if air == 0 {
		air = math.Max(1e-3, 1e-3*math.Abs(hi))
	}
	return lo - air, hi + air
}

// axes is a frame with two scales.
type axes struct {
	p    *picture
	x, y scale
}

// newAxes draws frame, grid and labels. Vertical values grow upwards unless down is set.
func newAxes(p *picture, xlo, xhi, ylo, yhi float64, xname, yname string, down bool) axes {
	a := axes{p, scale{xlo, xhi, left, width - right}, scale{ylo, yhi, height - bottom, top}}
	if down {
		a.y.from, a.y.to = top, height-bottom
	}
	p.text(classTitle, xy{left, top - 18}, start, p.title)
	for _, t := range xticks(xlo, xhi, xname) {
		x := a.x.at(t.value)
		p.line(classGrid, xy{x, top}, xy{x, height - bottom})
		p.text(classLabel, xy{x, height - bottom + 18}, middle, t.label)
	}
	for _, t := range ticks(ylo, yhi, false) {
		y := a.y.at(t.value)
		p.line(classGrid, xy{left, y}, xy{width - right, y})
		p.text(classLabel, xy{left - 8, y + 4}, end, t.label)
	}
	p.loop(classFrame, []xy{{left, top}, {width - right, top}, {width - right, height - bottom}, {left, height - bottom}})
	p.text(classLabel, xy{(left + width - right) / 2, height - 14}, middle, xname)
	p.text(classLabel, xy{width - right, top - 18}, end, yname)
	return a
}

func (a axes) at(x, y float64) xy { return xy{a.x.at(x), a.y.at(y)} }

// xticks are the ticks of the level scale by its name: passes are counted, years are whole, angles part a right angle.
func xticks(lo, hi float64, name string) []tick {
	switch {
	case name == passes || strings.HasPrefix(name, builds):
		return whole(lo, hi)
	case name == years:
		if t := whole(lo, hi); len(t) > 1 {
			return t
		}
		return months(lo, hi)
	}
	return ticks(lo, hi, isAngle(name))
}

// whole are the whole numbers within a scale, at most about eight of them.
func whole(lo, hi float64) []tick {
	step := math.Max(1, math.Ceil((hi-lo)/8))
	var out []tick
	for v := math.Ceil(lo/step) * step; v <= hi && len(out) < mostTicks; v += step {
		out = append(out, tick{v, strconv.FormatFloat(v, 'f', 0, 64)})
	}
	return out
}

// months are the beginnings of months within a scale of years, for a history of less than two.
func months(lo, hi float64) []tick {
	step := math.Max(1, math.Ceil((hi-lo)*12/6))
	var out []tick
	for m := math.Ceil(lo*12/step) * step; m/12 <= hi && len(out) < mostTicks; m += step {
		y := math.Floor(m / 12)
		out = append(out, tick{m / 12, fmt.Sprintf("%.0f-%02.0f", y, m-12*y+1)})
	}
	return out
}

// Names of scales that have ticks of their own.
const (
	passes = "pass"
	builds = "build, in order"
	years  = "year"
)

type tick struct {
	value float64
	label string
}

// ticks are the labelled values of a scale. Angles come in steps that divide a right angle; others are gonum's, with
// as many places as tell them apart (its own labels round 72.05 and 72.06 alike).
func ticks(lo, hi float64, angle bool) []tick {
	var at []float64
	if angle {
		step := 5.0
		for _, s := range []float64{10, 15, 30, 45, 90, 180, 360, 720} {
			if (hi-lo)/step > 9 {
				step = s
			}
		}
		for v := math.Ceil(lo/step) * step; v <= hi && len(at) < 20; v += step {
			at = append(at, v)
		}
	} else {
		at = level(lo, hi)
	}
	places := 0
	if len(at) > 1 {
		places = max(0, int(math.Ceil(-math.Log10(at[1]-at[0])-1e-9)))
	}
	var out []tick
	for _, v := range at {
		out = append(out, tick{v, minus(strconv.FormatFloat(v+0, 'f', places, 64))})
	}
	return out
}

// mostTicks ends the ticks of a scale so far from zero that a step no longer changes the number.
const mostTicks = 20

// level gives three to eight round values within a scale: steps of 1, 2 or 5 times a power of ten.
func level(lo, hi float64) []float64 {
	if !(hi > lo) {
		return []float64{lo}
	}
	step := math.Pow(10, math.Floor(math.Log10((hi-lo)/3)))
	for _, m := range []float64{5, 2} {
		if (hi-lo)/(m*step) >= 3 {
			step *= m
			break
		}
	}
	var at []float64
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+step*1e-9 && len(at) < mostTicks; k++ {
		at = append(at, k*step)
	}
	return at
}

// curve draws a line through values.
func (a axes) curve(class string, pts []calc.Point) {
	var at []xy
	for _, p := range pts {
		at = append(at, a.at(p.X, p.Y))
	}
	a.p.line(class, at...)
}

// event draws an upright line with a note beside its upper part.
func (a axes) event(x float64, text string) {
	at := a.x.at(x)
	a.p.line(classEvent, xy{at, top}, xy{at, height - bottom})
	var spots []spot
	for _, far := range []float64{6, 40, 80} {
		for dy := 33.0; dy < height-bottom-top; dy += 2 {
			spots = append(spots, spot{far, dy, start}, spot{-far, dy, end})
		}
	}
	a.p.noteAt(xy{at, top}, text, spots...)
}

// clear is how far the letters of a note keep off the line that it names, above and below.
const (
	clearUp   = 10.0
	clearDown = 31.0
)

// limit draws a level line with its note at a free place along it.
func (a axes) limit(y float64, text string) {
	if y < a.y.min || y > a.y.max {
		return
	}
	at := a.y.at(y)
	a.p.line(classLimit, xy{left, at}, xy{width - right, at})
	fars := []float64{0, 28, 56, 84, 112, 150, 190}
	spots := make([]spot, 0, 2*len(fars)*(int(width-right-left)/20+1))
	for _, far := range fars {
		for dx := width - right - 6.0; dx > left+6+letterWide*float64(len(text)); dx -= 20 {
			spots = append(spots, spot{dx, -clearUp - far, end}, spot{dx, clearDown + far, end})
		}
	}
	a.p.notes = append(a.p.notes, note{at: xy{0, at}, spots: spots, text: text, level: true})
}

// upright draws an upright limit with its note beside it.
func (a axes) upright(x float64, text string) {
	if x < a.x.min || x > a.x.max {
		return
	}
	at := a.x.at(x)
	a.p.line(classLimit, xy{at, top}, xy{at, height - bottom})
	var spots []spot
	for dy := height - bottom - 12.0; dy > top+28; dy -= 12 {
		spots = append(spots, spot{7, dy, start}, spot{-7, dy, end})
	}
	a.p.noteAt(xy{at, 0}, text, spots...)
}

// shownIn converts base units to a system's.
func shownIn(sys quantity.System, kind quantity.Kind, v float64) float64 {
	return sys.For(kind).FromBase(v)
}

func unitName(sys quantity.System, kind quantity.Kind) string {
	if kind == quantity.Angle {
		return "°"
	}
	return sys.For(kind).Code
}
