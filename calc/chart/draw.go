package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Draw gives the picture of a result as SVG, in millimetres; false where the method has none or the inputs do not fit.
// The SVG has classes only: see Style and Standalone.
func Draw(res calc.Result, req calc.Request) (svg string, ok bool) {
	return DrawIn(res, req, quantity.Metric)
}

// DrawIn is Draw in a system of units.
func DrawIn(res calc.Result, req calc.Request, sys quantity.System) (svg string, ok bool) {
	p, ok := build(res, req, sys)
	if !ok {
		return "", false
	}
	return p.svg(), true
}

// DrawOf is DrawIn with a title that begins with what it is of: "left inlet: valve lift".
func DrawOf(of string, res calc.Result, req calc.Request, sys quantity.System) (svg string, ok bool) {
	p, ok := build(res, req, sys)
	if !ok {
		return "", false
	}
	if of != "" {
		old := p.title
		p.title = of + ": " + strings.ToLower(old[:1]) + old[1:]
		for i := range p.marks {
			if p.marks[i].class == classTitle && p.marks[i].text == old {
				p.marks[i].text = p.title
			}
		}
	}
	return p.svg(), true
}

func build(res calc.Result, req calc.Request, sys quantity.System) (*picture, bool) {
	if res.Refused != "" {
		return nil, false
	}
	d := drawing{res, req, sys}
	draw, ok := map[string]func() (*picture, bool){"bore-map": d.boreMap, "cam-timing": d.camTiming, "valve-to-piston": d.clearance,
		"chain-slack": d.chainSlack, "circle-fit": d.circle, "runout": d.runout, "tdc-fit": d.topFit}[req.Method]
	if !ok {
		return nil, false
	}
	p, ok := draw()
	if !ok {
		return nil, false
	}
	return p.settle(), true
}

// drawing is one picture in the making.
type drawing struct {
	res calc.Result
	req calc.Request
	sys quantity.System
}

func (d drawing) list(name string) []float64 {
	var out []float64
	for _, n := range d.req.Inputs[name].List {
		out = append(out, n.X)
	}
	return out
}

func (d drawing) length(v float64) float64 { return shownIn(d.sys, quantity.Length, v) }
func (d drawing) lengths() string          { return unitName(d.sys, quantity.Length) }

// figure is a scalar figure's value.
func (d drawing) figure(name string) (calc.FigureResult, bool) {
	f, ok := d.res.Figure(name)
	return f, ok && f.Value != nil
}

func (d drawing) shown(f calc.FigureResult) string {
	return minus(f.Shown.In(d.sys))
}

// amount leaves of an angle from a dead centre its degrees: where it lies is what the picture shows.
func amount(shown string) string {
	if n, _, ok := strings.Cut(shown, "° "); ok {
		return n + "°"
	}
	return shown
}

// minus writes the sign of a number as a printer would.
func minus(s string) string {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return "−" + rest
	}
	return s
}

// boreMap draws diameter across, depth downwards, a line an axis.
func (d drawing) boreMap() (*picture, bool) {
	depths, axs := d.list("depths"), d.list("axes")
	grid := d.req.Inputs["diameters"].Grid
	if len(grid) != len(depths) || len(grid) == 0 {
		return nil, false
	}
	var all []float64
	for i := range depths {
		depths[i] = d.length(depths[i])
		for _, n := range grid[i] {
			all = append(all, d.length(n.X))
		}
	}
	if f, ok := d.figure("finish_bore_at_20"); ok {
		all = append(all, d.length(*f.Value))
	}
	p := &picture{title: "Bore map"}
	xlo, xhi := spanOf(all...)
	ylo, yhi := spanOf(depths...)
	a := newAxes(p, xlo, xhi, ylo, yhi, "diameter, "+d.lengths(), "depth, "+d.lengths(), true)
	classes := []string{classCurve, classOther, classThird}
	for j, axis := range axs {
		var pts []calc.Point
		for i, row := range grid {
			if j < len(row) {
				pts = append(pts, calc.Point{X: d.length(row[j].X), Y: depths[i]})
			}
		}
		a.curve(classes[j%len(classes)], pts)
		for _, q := range pts {
			p.shaped(j, a.at(q.X, q.Y))
		}
		if len(pts) > 0 {
			p.note(a.at(pts[0].X, pts[0].Y), axisName(axis))
		}
	}
	if f, ok := d.figure("finish_bore_at_20"); ok {
		a.upright(d.length(*f.Value), "wanted "+d.shown(f))
	}
	return p, true
}

// axisName is the trade's name of a direction across a bore.
func axisName(deg float64) string {
	switch math.Mod(deg, 180) {
	case 0:
		return "thrust"
	case 90:
		return "pin"
	}
	return fmt.Sprintf("%g° from thrust", deg)
}

// camTiming draws both lobes over the cycle with their events.
func (d drawing) camTiming() (*picture, bool) {
	inlet, okIn := calc.LiftCurve(d.req, "inlet_lift")
	exhaust, okEx := calc.LiftCurve(d.req, "exhaust_lift")
	if !okIn && !okEx {
		return nil, false
	}
	most := 0.0
	for _, c := range [][]calc.Point{inlet, exhaust} {
		for i := range c {
			c[i].X = math.Mod(c[i].X+360, 720) - 360 // overlap in the middle
			c[i].Y = d.length(c[i].Y)
			most = math.Max(most, c[i].Y)
		}
	}
	p := &picture{title: "Valve lift"}
	a := newAxes(p, -360, 360, 0, most*1.3, "crank degrees from overlap top dead centre, − is before", "lift, "+d.lengths(), false)
	a.curve(classCurve, inOrder(inlet))
	a.curve(classOther, inOrder(exhaust))
	if h := d.req.Inputs["checking_height"].Num; h != nil {
		a.limit(d.length(h.X), "checked at "+trim(d.length(h.X)))
	}
	for _, e := range []struct {
		name, note string
		at         func(float64) float64
	}{
		{"exhaust_opening", "exhaust opens", func(v float64) float64 { return -180 - v }},
		{"inlet_opening", "inlet opens", func(v float64) float64 { return -v }},
		{"exhaust_closing", "exhaust closes", func(v float64) float64 { return v }},
		{"inlet_closing", "inlet closes", func(v float64) float64 { return 180 + v }},
	} {
		if f, ok := d.figure(e.name); ok {
			a.event(e.at(*f.Value), e.note+" "+amount(d.shown(f)))
		}
	}
	return p, true
}

// trim writes a limit's figure without needless noughts.
func trim(v float64) string {
	return strings.TrimRight(strings.TrimRight(strconv.FormatFloat(v, 'f', 5, 64), "0"), ".")
}

// inOrder turns a cycle that starts elsewhere so that its angles grow.
func inOrder(c []calc.Point) []calc.Point {
	for i := 1; i < len(c); i++ {
		if c[i].X < c[i-1].X {
			return append(append([]calc.Point(nil), c[i:]...), c[:i]...)
		}
	}
	return c
}

// clearance draws valve-to-piston clearance over the overlap.
func (d drawing) clearance() (*picture, bool) {
	c, ok := calc.ClearanceCurve(d.req)
	if !ok {
		return nil, false
	}
	ys := []float64{0}
	for i := range c {
		c[i].Y = d.length(c[i].Y)
		ys = append(ys, c[i].Y)
	}
	if n := d.req.Inputs["required"].Num; n != nil {
		ys = append(ys, d.length(n.X))
	}
	p := &picture{title: "Valve-to-piston clearance"}
	lo, hi := spanOf(ys...)
	a := newAxes(p, -40, 40, lo, hi, "crank degrees from top dead centre, − is before", "clearance, "+d.lengths(), false)
	a.curve(classCurve, c)
	if n := d.req.Inputs["required"].Num; n != nil {
		a.limit(d.length(n.X), "required "+trim(d.length(n.X)))
	}
	least, ok1 := d.figure("min_after")
	at, ok2 := d.figure("at_crank_after")
	if ok1 && ok2 {
		q := a.at(*at.Value, d.length(*least.Value))
		p.dot(classPoint, q)
		p.note(q, d.shown(least)+" at "+d.shown(at))
	}
	return p, true
}

// chainSlack draws the readings around the turn, with the tight spot.
func (d drawing) chainSlack() (*picture, bool) {
	angles, slack := d.list("angle"), d.list("slack")
	if len(angles) != len(slack) || len(angles) == 0 {
		return nil, false
	}
	for i := range slack {
		slack[i] = d.length(slack[i])
	}
	p := &picture{title: "Chain slack around the turn"}
	xlo, xhi := spanOf(angles...)
	levels := append([]float64(nil), slack...)
	if n := d.req.Inputs["min_slack"].Num; n != nil {
		levels = append(levels, d.length(n.X))
	}
	ylo, yhi := spanOf(levels...)
	a := newAxes(p, xlo, xhi, ylo, yhi, "degrees of the rear sprocket", "slack, "+d.lengths(), false)
	pts := sortedPoints(angles, slack)
	a.curve(classCurve, pts)
	for _, q := range pts {
		p.dot(classPoint, a.at(q.X, q.Y))
	}
	if f, ok := d.figure("tight_at"); ok && *f.Value >= xlo && *f.Value <= xhi {
		words := "tight spot " + d.shown(f)
		if tight, ok := d.figure("tight_slack"); ok {
			words = "tight spot " + d.shown(tight) + " at " + d.shown(f) // of the curve that was fitted, beside the points
			p.shaped(1, a.at(*f.Value, d.length(*tight.Value)))
		}
		a.event(*f.Value, words)
	}
	if n := d.req.Inputs["min_slack"].Num; n != nil {
		a.limit(d.length(n.X), "least slack wanted "+trim(d.length(n.X)))
	}
	return p, true
}
