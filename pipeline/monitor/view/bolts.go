package view

import (
	"slices"
	"strconv"
	"strings"

	"thoud/calc/drawing"
)

// bolts are those of the plan, as many as the step reads, each with its number: which are done, which is read now, which comes
// next. The plan says in which order they are tightened, not where they are: they stand in two rows, the first ones in the
// middle and each across from the one before, as a cover is drawn down (common practice). Nil where the points of the step
// are no bolts.
func (w *work) bolts() []drawing.Bolt {
	var out []drawing.Bolt
	points := w.step.Wanted(w.pass())
	next := false
	for i, pt := range points {
		number := boltNumber(pt.ID)
		if number == "" {
			return nil
		}
		x, y := crosswise(i, len(points))
		b := drawing.Bolt{Name: number, X: x, Y: y, Now: pt.ID == w.lit()}
		at := slices.IndexFunc(w.v.Points, func(p PointView) bool { return p.ID == pt.ID })
		b.Done = at >= 0 && len(w.v.Points[at].Values) > 0 && !w.v.Points[at].Earlier
		if !b.Now && !b.Done && !next && w.lit() != "" {
			b.Next, next = true, true
		}
		out = append(out, b)
	}
	return out
}

// boltNumber is what is written on the bolt of a point, "" where it is none: "bolt-3", "left.bolt-3".
func boltNumber(point string) string {
	_, number, ok := strings.Cut(point, "bolt-")
	if _, err := strconv.Atoi(number); !ok || err != nil {
		return ""
	}
	return number
}

// crosswise is the place of the i-th of n bolts: columns from the middle outwards, each pair across from one another.
func crosswise(i, n int) (x, y float64) {
	pair, second := i/2, i%2 == 1
	ring := pair / 2 // two pairs lie equally far out
	x = float64(ring) + 0.5
	if n <= 2 {
		x = 0.5
	}
	// The first pair goes from front left to rear right, the second the other way.
	if second == (pair%2 == 1) {
		x = -x
	}
	y = -1
	if second {
		y = 1
	}
	if n%4 == 2 && pair == n/2-1 { // a pair that is left over stands in the middle of the outer side
		return map[bool]float64{false: -1, true: 1}[second] * (float64(ring) + 0.5), 0
	}
	return x, y
}
