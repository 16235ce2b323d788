package calc

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"thoud/calc/quantity"
)

// circleFit: the least-squares reference circle through points.
//
//	minimise Σ (√((x − a)² + (y − b)²) − R)²          roundness = greatest − least distance from (a, b)
//
// The linear fit 2ax + 2by + c = x² + y² on centred and scaled points is only the start; Gauss–Newton with halved steps
// takes it to the geometric minimum. Lengths in mm; arc is the angle the points span about the centre. Refused: fewer
// than three different points, points on one line, points that no circle fits. Through three points there is a circle
// always, so they say nothing of form: no roundness is given; of four or five it is warned that form is hardly seen. A
// short arc is warned of: its centre is uncertain far beyond its readings. ISO 12181-1 (least squares reference circle, RONt).
func circleFit() Method {
	return Method{
		Name: "circle-fit", Version: 2, Title: "Circle of least squares",
		Inputs: []Input{
			{Name: "points", Shape: Grid, Kind: quantity.Length, Doc: "points of the circle, a pair [x, y] each"},
		},
		Figures: []Figure{
			{Name: "centre_x", Kind: quantity.Length, Doc: "centre"},
			{Name: "centre_y", Kind: quantity.Length, Doc: "centre"},
			{Name: "radius", Kind: quantity.Length, Doc: "radius"},
			{Name: "diameter", Kind: quantity.Length, Doc: "diameter"},
			{Name: "roundness", Kind: quantity.Length, Doc: "greatest less least radius about the centre (RONt)"},
			{Name: "arc", Kind: quantity.Angle, Doc: "angle that the points span about the centre, less the widest gap"},
		},
		Formula:  "least squares of √((x − a)² + (y − b)²) − R in a, b and R; roundness = greatest − least radius",
		Source:   "ISO 12181-1, least squares reference circle",
		Cautions: []string{"Points on a short arc say little of the centre: measure all round.", "Burrs and dirt make points of their own: wipe and stone first."},
		Compute:  computeCircleFit,
	}
}

// Bounds of what is still a circle fit: points nearer to a line than this share of their spread are on one line; below
// shortArc the centre is warned of.
const (
	flatness = 1e-6
	shortArc = 180
)

func computeCircleFit(in Args, out *Out) error {
	grid := in.Grid("points")
	p := make([]point, len(grid))
	for i, row := range grid {
		if len(row) != 2 {
			return Refuse("points", "give each point as a pair [x, y]", "point %d has %d numbers", i+1, len(row))
		}
		p[i] = point{row[0], row[1]}
	}
	middle, size := centreOf(p)
	n := distinct(p, size*1e-9)
	if n < 3 {
		return Refuse("points", "give three different points at least, better eight all round", "%d different points", n)
	}
	for i := range p {
		p[i] = point{(p[i].x - middle.x) / size, (p[i].y - middle.y) / size}
	}
	if onOneLine(p) {
		return Refuse("points", "give points all round the circle", "all %d points lie on one line", len(p))
	}
	c, ok := fitCircle(p)
	if !ok {
		return Refuse("points", "give points further round the circle", "the points determine no circle: their arc is too short for their scatter")
	}
	least, most := math.Inf(1), 0.0
	angles := make([]float64, len(p))
	for i, q := range p {
		d := math.Hypot(q.x-c.x, q.y-c.y)
		least, most = math.Min(least, d), math.Max(most, d)
		angles[i] = degrees(math.Atan2(q.y-c.y, q.x-c.x))
	}
	arc := 360 - widestGap(angles, 360)
	if arc < shortArc {
		out.Warn("the points span only %.0f° of the circle: the centre and the radius are far less certain than the points", arc)
	}
	declareCircle(out, p, c, size)
	out.Set("centre_x", middle.x+c.x*size)
	out.Set("centre_y", middle.y+c.y*size)
	out.Set("radius", c.r*size)
	out.Set("diameter", 2*c.r*size)
	out.Set("arc", arc)
	switch {
	case n == 3:
		out.Warn("roundness: not given, three points lie on a circle whatever the form; take eight all round")
	case n <= 5:
		out.Warn("roundness: %d points hardly see form; take eight all round", n)
		fallthrough
	default:
		out.Set("roundness", (most-least)*size)
	}
	return nil
}

// declareCircle lets the residuals be held against what was stated: a residual lies along the radius, and follows x and y
// of its point by their shares of it.
func declareCircle(out *Out, p []point, c circle, size float64) {
	f := Fit{Figures: []string{"centre_x", "centre_y", "radius", "diameter", "roundness"}, Unknowns: 3}
	x, y := Measured{Input: "points"}, Measured{Input: "points"}
	for i, q := range p {
		d := math.Hypot(q.x-c.x, q.y-c.y)
		f.Residuals = append(f.Residuals, (d-c.r)*size)
		x.Member, x.Slope = append(x.Member, 2*i), append(x.Slope, (q.x-c.x)/d)
		y.Member, y.Slope = append(y.Member, 2*i+1), append(y.Slope, (q.y-c.y)/d)
	}
	f.Readings = []Measured{x, y}
	out.Fit(f)
}

type point struct{ x, y float64 }

type circle struct{ x, y, r float64 }

// centreOf is the centroid and the rms distance from it, never zero.
func centreOf(p []point) (point, float64) {
	var m point
	// In two passes, so that a part 100 m from the origin keeps its digits.
	for range 2 {
		dx, dy := 0.0, 0.0
		for _, q := range p {
			dx, dy = dx+q.x-m.x, dy+q.y-m.y
		}
		m.x, m.y = m.x+dx/float64(len(p)), m.y+dy/float64(len(p))
	}
	sum := 0.0
	for _, q := range p {
		sum += (q.x-m.x)*(q.x-m.x) + (q.y-m.y)*(q.y-m.y)
	}
	size := math.Sqrt(sum / float64(len(p)))
	if !(size > 0) {
		size = 1
	}
	return m, size
}

// distinct counts points more than tol apart, up to six.
func distinct(p []point, tol float64) int {
	var kept []point
	for _, q := range p {
		far := true
		for _, k := range kept {
			far = far && math.Hypot(q.x-k.x, q.y-k.y) > tol
		}
		if far {
			kept = append(kept, q)
		}
		if len(kept) == 6 {
			break
		}
	}
	return len(kept)
}

// onOneLine looks at the spread across the line of best fit; points are centred and of unit size.
func onOneLine(p []point) bool {
	xx, xy, yy := 0.0, 0.0, 0.0
	for _, q := range p {
		xx, xy, yy = xx+q.x*q.x, xy+q.x*q.y, yy+q.y*q.y
	}
	// Across the line, not from the eigenvalue, which rounding would hide.
	angle := math.Atan2(2*xy, xx-yy) / 2
	s, c := math.Sincos(angle)
	across := 0.0
	for _, q := range p {
		d := c*q.y - s*q.x
		across += d * d
	}
	return math.Sqrt(across/float64(len(p))) < flatness
}

// fitCircle takes centred points of unit size to the geometric minimum.
func fitCircle(p []point) (circle, bool) {
	c, ok := linearCircle(p)
	if !ok {
		return c, false
	}
	n := len(p)
	a, b := mat.NewDense(n, 2, nil), mat.NewVecDense(n, nil)
	var qr mat.QR
	var x mat.VecDense
	sum := c.residual(p)
	for range 500 {
		// With R at its best for a centre (the mean distance) the centre alone is unknown.
		mx, my := 0.0, 0.0
		for _, q := range p {
			d := math.Hypot(q.x-c.x, q.y-c.y)
			if d == 0 {
				return c, false
			}
			mx, my = mx+(q.x-c.x)/d/float64(n), my+(q.y-c.y)/d/float64(n)
		}
		for i, q := range p {
			d := math.Hypot(q.x-c.x, q.y-c.y)
			a.Set(i, 0, (q.x-c.x)/d-mx)
			a.Set(i, 1, (q.y-c.y)/d-my)
			b.SetVec(i, d-c.r)
		}
		qr.Factorize(a)
		if qr.SolveVecTo(&x, false, b) != nil {
			return c, false
		}
		dx, dy := x.AtVec(0), x.AtVec(1)
		step := 1.0
		var next circle
		for ; step > 1e-6; step /= 2 {
			next = circle{c.x + step*dx, c.y + step*dy, 0}
			next.r = next.meanRadius(p)
			// Near the minimum the sum says no more about the step than its rounding.
			if next.residual(p) <= sum*(1+1e-12) {
				break
			}
		}
		if step <= 1e-6 || math.Hypot(step*dx, step*dy) <= 1e-14*math.Max(1, c.r) {
			return c, finite(c.r)
		}
		if next.r > 1e6 {
			return c, false
		}
		c, sum = next, next.residual(p)
	}
	return c, true
}

// linearCircle solves 2ax + 2by + c = x² + y² by least squares.
func linearCircle(p []point) (circle, bool) {
	a, b := mat.NewDense(len(p), 3, nil), mat.NewVecDense(len(p), nil)
	for i, q := range p {
		a.SetRow(i, []float64{2 * q.x, 2 * q.y, 1})
		b.SetVec(i, q.x*q.x+q.y*q.y)
	}
	var qr mat.QR
	qr.Factorize(a)
	var x mat.VecDense
	if qr.SolveVecTo(&x, false, b) != nil {
		return circle{}, false
	}
	c := circle{x: x.AtVec(0), y: x.AtVec(1)}
	c.r = c.meanRadius(p)
	return c, finite(c.r)
}

func (c circle) meanRadius(p []point) float64 {
	sum := 0.0
	for _, q := range p {
		sum += math.Hypot(q.x-c.x, q.y-c.y)
	}
	return sum / float64(len(p))
}

func (c circle) residual(p []point) float64 {
	sum := 0.0
	for _, q := range p {
		d := math.Hypot(q.x-c.x, q.y-c.y) - c.r
		sum += d * d
	}
	return sum
}
