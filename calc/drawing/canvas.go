package drawing

import "math"

// Width and Height are the box of every drawing, in its own units; y goes downwards.
const (
	Width  = 640
	Height = 480
)

// Op is what a segment does.
type Op byte

// The operations of a path. A Curve's three points are two controls and the end, as in PostScript.
const (
	MoveTo  Op = 'M'
	LineTo  Op = 'L'
	CurveTo Op = 'C'
	Close   Op = 'Z'
)

// XY is a place in the drawing.
type XY struct{ X, Y float64 }

// Segment is one piece of a path: one point for MoveTo and LineTo, three for CurveTo, none for Close.
type Segment struct {
	Op     Op
	Points [3]XY
}

// Anchor is the end of a text that stands at its point, as SVG names them.
type Anchor string

// The anchors.
const (
	Start  Anchor = "start"
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Element is one stroke or one text. Class names its look; Part what it belongs to ("left block", "indicator", "move").
// A text has Text, At and Anchor; everything else has Path.
type Element struct {
	Class  string
	Part   string
	Path   []Segment
	Text   string
	At     XY
	Anchor Anchor
}

// Picture is a drawing: what it shows in words, and its strokes from back to front.
type Picture struct {
	Name     string
	Says     string
	Elements []Element
	Arrows   []Arrow
	Live     string // the figure that follows the gauge, as it is written now; "" where none does
}

// Arrow is a move that the drawing shows: which way it says, from where to where. Turn is the signed angle in degrees, clockwise
// positive, of an arrow that goes round; 0 of a straight one. Meant is false for the empty arrow of the other way.
type Arrow struct {
	Says     string
	From, To XY
	Turn     float64
	Meant    bool
}

// canvas collects strokes. Coordinates pass through the matrix in force, so that a tool can be drawn upright and placed
// anywhere.
type canvas struct {
	elements []Element
	arrows   []Arrow
	part     string
	m        matrix
}

// matrix maps x, y to a·x + c·y + e, b·x + d·y + f.
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

func (m matrix) at(x, y float64) XY { return XY{m.a*x + m.c*y + m.e, m.b*x + m.d*y + m.f} }

// placed runs draw with its origin at x, y, turned by deg clockwise and scaled.
func (k *canvas) placed(x, y, deg, size float64, draw func()) {
	old := k.m
	s, c := math.Sincos(deg * math.Pi / 180)
	o := old.at(x, y)
	k.m = matrix{
		a: size * (old.a*c + old.c*s), b: size * (old.b*c + old.d*s),
		c: size * (old.c*c - old.a*s), d: size * (old.d*c - old.b*s),
		e: o.X, f: o.Y,
	}
	draw()
	k.m = old
}

// as runs draw with its strokes named as one part.
func (k *canvas) as(part string, draw func()) {
	old := k.part
	k.part = part
	draw()
	k.part = old
}

func (k *canvas) add(class string, path []Segment) {
	k.elements = append(k.elements, Element{Class: class, Part: k.part, Path: path})
}

// trace is a path under construction, in the coordinates of the caller.
type trace struct {
	k    *canvas
	segs []Segment
	at   XY
}

func (k *canvas) from(x, y float64) *trace {
	t := &trace{k: k}
	return t.move(x, y)
}

func (t *trace) put(op Op, pts ...XY) *trace {
	s := Segment{Op: op}
	for i, p := range pts {
		s.Points[i] = t.k.m.at(p.X, p.Y)
	}
	if n := len(pts); n > 0 {
		t.at = pts[n-1]
	}
	t.segs = append(t.segs, s)
	return t
}

func (t *trace) move(x, y float64) *trace { return t.put(MoveTo, XY{x, y}) }
func (t *trace) to(x, y float64) *trace   { return t.put(LineTo, XY{x, y}) }
func (t *trace) h(x float64) *trace       { return t.to(x, t.at.Y) }
func (t *trace) v(y float64) *trace       { return t.to(t.at.X, y) }
func (t *trace) close() *trace            { return t.put(Close) }

func (t *trace) cubic(x1, y1, x2, y2, x, y float64) *trace {
	return t.put(CurveTo, XY{x1, y1}, XY{x2, y2}, XY{x, y})
}

// quad is a curve with one control point, raised to a cubic.
func (t *trace) quad(cx, cy, x, y float64) *trace {
	p := t.at
	return t.cubic(p.X+(cx-p.X)*2/3, p.Y+(cy-p.Y)*2/3, x+(cx-x)*2/3, y+(cy-y)*2/3, x, y)
}

// arc goes round cx, cy from one bearing to another: degrees from upwards, clockwise positive. It joins the path with a
// line, or begins it.
func (t *trace) arc(cx, cy, r, from, to float64) *trace {
	p := func(deg float64) XY { return polar(cx, cy, r, deg) }
	q := p(from)
	if len(t.segs) == 0 {
		t.move(q.X, q.Y)
	} else if math.Hypot(q.X-t.at.X, q.Y-t.at.Y) > 0.01 {
		t.to(q.X, q.Y)
	}
	n := max(1, math.Ceil(math.Abs(to-from)/45))
	step := (to - from) / n
	for i := range int(n) {
		a, b := from+step*float64(i), from+step*float64(i+1)
		// The control points of a circular arc by a cubic: 4/3·tan(θ/4) along the tangents.
		d := r * 4 / 3 * math.Tan(step*math.Pi/180/4)
		pa, pb := p(a), p(b)
		sa, ca := math.Sincos(a * math.Pi / 180)
		sb, cb := math.Sincos(b * math.Pi / 180)
		t.cubic(pa.X+d*ca, pa.Y+d*sa, pb.X-d*cb, pb.Y-d*sb, pb.X, pb.Y)
	}
	return t
}

// draw adds the path in a class.
func (t *trace) draw(class string) { t.k.add(class, t.segs) }

// cut adds the path as a section: filled with paper, hatched, outlined.
func (t *trace) cut(h hatching) { t.k.cut(classCut, t.segs, h) }

// cutLit is cut in the lit outline.
func (t *trace) cutLit(h hatching) { t.k.cut(classLitCut, t.segs, h) }

func (k *canvas) cut(class string, path []Segment, h hatching) {
	k.add(classGround, path)
	if lines := hatch(path, h); len(lines) > 0 {
		k.add(classHatch, lines)
	}
	k.add(class, path)
}

func polar(cx, cy, r, deg float64) XY {
	s, c := math.Sincos(deg * math.Pi / 180)
	return XY{cx + r*s, cy - r*c}
}

// line joins points given as x1, y1, x2, y2, …
func (k *canvas) line(class string, p ...float64) { k.run(p).draw(class) }

// poly is line, closed.
func (k *canvas) poly(class string, p ...float64) { k.run(p).close().draw(class) }

func (k *canvas) run(p []float64) *trace {
	t := k.from(p[0], p[1])
	for i := 2; i+1 < len(p); i += 2 {
		t.to(p[i], p[i+1])
	}
	return t
}

func (k *canvas) rect(class string, x, y, w, h, r float64) { k.box(x, y, w, h, r).draw(class) }

// box is a rectangle with rounded corners, as a path.
func (k *canvas) box(x, y, w, h, r float64) *trace {
	if r <= 0 {
		return k.from(x, y).to(x+w, y).to(x+w, y+h).to(x, y+h).close()
	}
	t := k.from(x+r, y).to(x+w-r, y)
	t.arc(x+w-r, y+r, r, 0, 90).arc(x+w-r, y+h-r, r, 90, 180).arc(x+r, y+h-r, r, 180, 270).arc(x+r, y+r, r, 270, 360)
	return t.close()
}

func (k *canvas) circle(class string, x, y, r float64) {
	t := &trace{k: k}
	t.arc(x, y, r, 0, 360).close().draw(class)
}

func (k *canvas) text(class string, x, y float64, s string, a Anchor) {
	if s == "" {
		return
	}
	k.elements = append(k.elements, Element{Class: class, Part: k.part, Text: s, At: k.m.at(x, y), Anchor: a})
}

// centred is text about x, y: its capitals' middle stands at y.
func (k *canvas) centred(class string, x, y float64, s string) {
	k.text(class, x, y+looks[class].Size*0.36, s, Middle)
}

func (k *canvas) hexagon(class string, x, y, r, deg float64) {
	p := make([]float64, 0, 12)
	for i := range 6 {
		q := polar(x, y, r, deg+60*float64(i))
		p = append(p, q.X, q.Y)
	}
	k.poly(class, p...)
}
