package chart

import (
	"math"

	"thoud/calc"
)

// topFit draws the readings about top dead centre, with the way of the piston that was fitted beside them.
func (d drawing) topFit() (*picture, bool) {
	angles, readings := d.list("crank_angle"), d.list("reading")
	tdc, ok1 := d.figure("tdc")
	peak, ok2 := d.figure("reading_at_tdc")
	if len(angles) != len(readings) || len(angles) == 0 || !ok1 || !ok2 {
		return nil, false
	}
	var xs, ys []float64
	below := 0.0 // the readings fall as the piston does, or they grow
	for i := range angles {
		xs = append(xs, math.Remainder(angles[i]-*tdc.Value, 360))
		ys = append(ys, d.length(readings[i]))
		below += readings[i] - *peak.Value
	}
	pts := sortedPoints(xs, ys)
	fit, ok := calc.DropCurve(d.req, pts[0].X, pts[len(pts)-1].X)
	if !ok {
		return nil, false
	}
	for i := range fit {
		fit[i].Y = d.length(*peak.Value + math.Copysign(fit[i].Y, below))
		ys = append(ys, fit[i].Y)
	}
	xlo, xhi := spanOf(xs...)
	ylo, yhi := spanOf(ys...)
	p := &picture{title: "Top dead centre at " + d.shown(tdc) + " of the wheel"}
	a := newAxes(p, xlo, xhi, ylo, yhi, "crank degrees from top dead centre, − is before", "reading, "+d.lengths(), false)
	a.curve(classCurve, fit)
	for _, q := range pts {
		p.dot(classPoint, a.at(q.X, q.Y))
	}
	a.event(0, "fitted")
	return p, true
}
