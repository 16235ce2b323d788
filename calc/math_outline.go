package calc

import "math"

// outline is a convex figure in a plane: its corners in turn, mm. Two corners are a plain edge.
type outline []point

// apart is the distance of two convex outlines; 0 where they meet.
func (o outline) apart(p outline) float64 {
	if o.holds(p[0]) || p.holds(o[0]) {
		return 0
	}
	d := math.Inf(1)
	for i := range o {
		for j := range p {
			d = math.Min(d, edgesApart(o[i], o[(i+1)%len(o)], p[j], p[(j+1)%len(p)]))
		}
	}
	return d
}

// holds reports that a point lies inside.
func (o outline) holds(q point) bool {
	if len(o) < 3 {
		return false
	}
	left, right := false, false
	for i, a := range o {
		switch s := side(a, o[(i+1)%len(o)], q); {
		case s > 0:
			left = true
		case s < 0:
			right = true
		}
	}
	return left != right
}

// side is positive where q lies to the left of the line from a to b: twice the area of the triangle.
func side(a, b, q point) float64 { return (b.x-a.x)*(q.y-a.y) - (b.y-a.y)*(q.x-a.x) }

// edgesApart is the distance of two straight edges; 0 where they cross.
func edgesApart(a, b, c, d point) float64 {
	if side(a, b, c)*side(a, b, d) < 0 && side(c, d, a)*side(c, d, b) < 0 {
		return 0
	}
	return math.Min(math.Min(toEdge(a, c, d), toEdge(b, c, d)), math.Min(toEdge(c, a, b), toEdge(d, a, b)))
}

// toEdge is the distance of a point from an edge.
func toEdge(q, a, b point) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = math.Max(0, math.Min(1, ((q.x-a.x)*dx+(q.y-a.y)*dy)/l))
	}
	return math.Hypot(q.x-a.x-t*dx, q.y-a.y-t*dy)
}
