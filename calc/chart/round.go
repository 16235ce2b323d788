package chart

import (
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
	return d.polar("Roundness "+d.shown(round), pts)
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
	p, ok := d.polar(title, pts)
	if high, has := d.figure("high_point"); ok && has {
		p.line(classEvent, polarAt(*high.Value, 0), polarAt(*high.Value, roundR+60))
		at := polarAt(*high.Value, roundR+68)
		p.text(classNote, at, middle, "high point "+d.shown(high))
	}
	return p, ok
}

// polarAt is the point at an angle, counted against the clock from three o'clock, and radius.
func polarAt(deg, r float64) xy {
	s, c := math.Sincos(deg * math.Pi / 180)
	return xy{roundX + r*c, roundY - r*s}
}

// polar draws deviations (mm) about the reference circle, the largest 45 units high.
func (d drawing) polar(title string, pts []calc.Point) (*picture, bool) {
	most := 0.0
	for _, q := range pts {
		most = math.Max(most, math.Abs(q.Y))
	}
	if most == 0 {
		most = 1e-6
	}
	p := &picture{title: title}
	p.text(classTitle, xy{left, top - 18}, start, title)
	var circle []xy
	for a := 0; a < 360; a += 3 {
		circle = append(circle, polarAt(float64(a), roundR))
	}
	p.loop(classGrid, circle)
	for a := 0; a < 360; a += 45 {
		p.line(classGrid, polarAt(float64(a), roundR-50), polarAt(float64(a), roundR+50))
		at := polarAt(float64(a), roundR+64)
		p.text(classLabel, xy{at.x, at.y + 4}, middle, fmt.Sprintf("%d°", a))
	}
	slices.SortFunc(pts, func(a, b calc.Point) int {
		if a.X < b.X {
			return -1
		}
		return 1
	})
	var form []xy
	for _, q := range pts {
		form = append(form, polarAt(q.X, roundR+45*q.Y/most))
	}
	p.loop(classCurve, form)
	for _, q := range form {
		p.dot(classPoint, q)
	}
	p.text(classNote, xy{left, height - 14}, start, fmt.Sprintf("greatest deviation %.3g %s, magnified", d.length(most), d.lengths()))
	return p, true
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
