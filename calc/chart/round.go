package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"thoud/calc"
)

// The round pictures: form about the reference circle, magnified.
const (
	roundX = width / 2
	roundY = (top + height - 20) / 2
	roundR = 115 // the reference circle
)

// circle draws a circle fit: the points' deviations from the reference circle.
func (d drawing) circle() (*picture, bool) {
	cx, ok1 := d.figure("centre_x")
	cy, ok2 := d.figure("centre_y")
	r, ok3 := d.figure("radius")
	round, ok4 := d.figure("roundness")
	if !(ok1 && ok2 && ok3 && ok4) {
		return nil, false
	}
	var pts []calc.Point
	for _, row := range d.req.Inputs["points"].Grid {
		if len(row) != 2 {
			return nil, false
		}
		dx, dy := row[0].X-*cx.Value, row[1].X-*cy.Value
		pts = append(pts, calc.Point{X: math.Atan2(dy, dx) * 180 / math.Pi, Y: math.Hypot(dx, dy) - *r.Value})
	}
	return d.polar("Roundness "+d.shown(round), asPlotted, pts, nil), true
}

// runout draws the readings round the shaft about their mean, with the high point.
func (d drawing) runout() (*picture, bool) {
	angles, readings := d.list("angle"), d.list("reading")
	if len(angles) != len(readings) || len(angles) == 0 {
		return nil, false
	}
	mean := 0.0
	for _, r := range readings {
		mean += r / float64(len(readings))
	}
	var pts []calc.Point
	for i := range angles {
		pts = append(pts, calc.Point{X: angles[i], Y: readings[i] - mean})
	}
	title := "Runout"
	if f, ok := d.figure("total_reading"); ok {
		title += " " + d.shown(f)
	}
	high, hasHigh := d.figure("high_point")
	e, hasE := d.figure("eccentricity")
	var fit []calc.Point // the circle that was fitted: what of the readings is eccentricity
	for a := 0.0; hasHigh && hasE && a < 360; a += 5 {
		fit = append(fit, calc.Point{X: a, Y: *e.Value * math.Cos((a-*high.Value)*math.Pi/180)})
	}
	p := d.polar(title, asTurned, pts, fit)
	if hasHigh {
		p.line(classEvent, asTurned.at(*high.Value, 0), asTurned.at(*high.Value, roundR+58))
		p.note(asTurned.at(*high.Value, roundR+58), "high point "+d.shown(high))
	}
	return p, true
}

// turning is how angles are laid round a circle.
type turning struct {
	from, sense float64 // where 0° is and which way it grows, in the sense of a circle's own angles
	mark        string  // what stands at 0°
}

var (
	asTurned  = turning{90, -1, "0° mark"} // at the top and clockwise, as a wheel on the bench is seen and turned
	asPlotted = turning{0, 1, "0°"}        // from x against the clock, as points are given by their coordinates
)

// at is the point at an angle and radius.
func (t turning) at(deg, r float64) xy {
	s, c := math.Sincos((t.from + t.sense*deg) * math.Pi / 180)
	return xy{roundX + r*c, roundY - r*s}
}

// circleOf is a circle about the middle.
func circleOf(r float64) []xy {
	var out []xy
	for a := 0.0; a < 360; a += 3 {
		out = append(out, asPlotted.at(a, r))
	}
	return out
}

// polar draws deviations (mm) about the reference circle, the largest 45 units high, and beside them the fit, where there is
// one. The rings are at round steps of the unit.
func (d drawing) polar(title string, t turning, pts, fit []calc.Point) *picture {
	most := 0.0
	for _, q := range slices.Concat(pts, fit) {
		most = math.Max(most, math.Abs(q.Y))
	}
	if most == 0 {
		most = 1e-6
	}
	at := func(q calc.Point) xy { return t.at(q.X, roundR+45*q.Y/most) }
	p := &picture{title: title}
	p.text(classTitle, xy{left, top - 18}, start, title)
	rings := level(0, d.length(most))
	step := rings[len(rings)-1] - rings[len(rings)-2]
	for k := -4.0; k <= 4; k++ {
		if r := 45 * k * step / d.length(most); math.Abs(r) < 52 {
			p.loop(classGrid, circleOf(roundR+r))
		}
	}
	p.loop(classFrame, circleOf(roundR))
	for a := 0; a < 360; a += 45 {
		p.line(classGrid, t.at(float64(a), roundR-50), t.at(float64(a), roundR+50))
		words := fmt.Sprintf("%d°", a)
		if a == 0 {
			words = t.mark
		}
		q := t.at(float64(a), roundR+66)
		side := middle
		switch {
		case q.x > roundX+40:
			side, q.x = start, q.x-10
		case q.x < roundX-40:
			side, q.x = end, q.x+10
		}
		p.text(classLabel, xy{q.x, q.y + 4}, side, words)
	}
	slices.SortFunc(pts, func(a, b calc.Point) int { return cmp.Compare(a.X, b.X) })
	var form, fitted []xy
	for _, q := range pts {
		form = append(form, at(q))
	}
	for _, q := range fit {
		fitted = append(fitted, at(q))
	}
	p.loop(classCurve, form)
	if fitted != nil {
		p.loop(classOther, fitted)
	}
	for _, q := range form {
		p.dot(classPoint, q)
	}
	p.text(classNote, xy{8, height - 38}, start, "magnified: a ring")
	p.text(classNote, xy{8, height - 12}, start, "is "+trim(step)+" "+d.lengths())
	if fitted != nil {
		p.text(classNote, xy{width - right, top - 18}, end, "dashed: the circle fitted")
	}
	return p
}

func sortedPoints(x, y []float64) []calc.Point {
	var pts []calc.Point
	for i := range x {
		pts = append(pts, calc.Point{X: x[i], Y: y[i]})
	}
	slices.SortFunc(pts, func(a, b calc.Point) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
	return pts
}
