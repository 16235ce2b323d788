package drawing

import (
	"math"
	"slices"
)

// hatching is the direction (degrees from the x axis) and the spacing of the lines over a cut part. Parts that touch get
// different ones; all cuts of one part get the same (ISO 128-50).
type hatching struct{ angle, spacing float64 }

var (
	rising  = hatching{-45, 15} // the larger part
	falling = hatching{45, 12}  // the part that touches it
	fine    = hatching{-45, 9}  // a third part between the two
)

// hatch gives the lines over the inside of a path, as one path of separate lines. They stand on a grid through the origin,
// so that the pieces of one part match.
func hatch(path []Segment, h hatching) []Segment {
	rings := flatten(path)
	s, c := math.Sincos(h.angle * math.Pi / 180)
	turn := func(p XY) XY { return XY{p.X*c + p.Y*s, -p.X*s + p.Y*c} }
	back := func(p XY) XY { return XY{p.X*c - p.Y*s, p.X*s + p.Y*c} }
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range rings {
		for i := range r {
			r[i] = turn(r[i])
			low, high = min(low, r[i].Y), max(high, r[i].Y)
		}
	}
	var out []Segment
	for y := math.Ceil(low/h.spacing) * h.spacing; y < high; y += h.spacing {
		xs := crossings(rings, y+1e-7)
		for i := 0; i+1 < len(xs); i += 2 {
			if xs[i+1]-xs[i] < 2 {
				continue
			}
			out = append(out, Segment{Op: MoveTo, Points: [3]XY{back(XY{xs[i], y})}}, Segment{Op: LineTo, Points: [3]XY{back(XY{xs[i+1], y})}})
		}
	}
	return out
}

// crossings are the places where the closed rings cross a height, in order: inside is between the first and the second,
// the third and the fourth, and so on.
func crossings(rings [][]XY, y float64) []float64 {
	var xs []float64
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			if (p.Y > y) != (q.Y > y) {
				xs = append(xs, p.X+(y-p.Y)*(q.X-p.X)/(q.Y-p.Y))
			}
		}
	}
	slices.Sort(xs)
	return xs
}

// flatten turns a path into closed rings of straight lines.
func flatten(path []Segment) [][]XY {
	var rings [][]XY
	var r []XY
	for _, s := range path {
		switch s.Op {
		case MoveTo:
			if len(r) > 2 {
				rings = append(rings, r)
			}
			r = []XY{s.Points[0]}
		case LineTo:
			r = append(r, s.Points[0])
		case CurveTo:
			a := r[len(r)-1]
			for i := 1; i <= 8; i++ {
				t := float64(i) / 8
				r = append(r, bezier(a, s.Points, t))
			}
		}
	}
	if len(r) > 2 {
		rings = append(rings, r)
	}
	return rings
}

func bezier(a XY, p [3]XY, t float64) XY {
	u := 1 - t
	f := func(a, b, c, d float64) float64 { return u*u*u*a + 3*u*u*t*b + 3*u*t*t*c + t*t*t*d }
	return XY{f(a.X, p[0].X, p[1].X, p[2].X), f(a.Y, p[0].Y, p[1].Y, p[2].Y)}
}
