package chart

import (
	"math"
	"strings"
	"sync"
	"unicode/utf8"
)

// A note finds its own place: at the first of its spots where no line strikes it through and no other text touches it. Its
// room is reckoned for the sheet, where letters are larger and a picture is pressed flat, so that one picture is right in
// both.
type note struct {
	at    xy
	spots []spot
	text  string
	far   float64 // from here on a thin line leads to it
	level bool    // it names a level line: the thin line goes upright to that
}

// spot is where a note may stand, seen from the place it belongs to.
type spot struct {
	dx, dy float64
	anchor anchor
}

// What a letter takes of room, in units of the picture.
const (
	letterWide = 9.2 // of 18 units, on an average
	letterUp   = 25.0
	letterDown = 6.0
)

// box is the room of a text.
type box struct{ left, top, right, foot float64 }

func boxOf(at xy, a anchor, text string) box {
	w := letterWide * float64(utf8.RuneCountInString(text))
	switch a {
	case middle:
		at.x -= w / 2
	case end:
		at.x -= w
	}
	return box{at.x, at.y - letterUp, at.x + w, at.y + letterDown}
}

func (b box) touches(c box) bool {
	return b.left < c.right && c.left < b.right && b.top < c.foot && c.top < b.foot
}

// crossed reports whether a line from p to q goes through the box.
func (b box) crossed(p, q xy) bool {
	if p.x < b.left && q.x < b.left || p.x > b.right && q.x > b.right || p.y < b.top && q.y < b.top || p.y > b.foot && q.y > b.foot {
		return false // nearly all of them
	}
	from, to := 0.0, 1.0
	for _, s := range [][3]float64{{p.x, q.x - p.x, 0}, {p.y, q.y - p.y, 1}} {
		lo, hi := b.left, b.right
		if s[2] == 1 {
			lo, hi = b.top, b.foot
		}
		if s[1] == 0 {
			if s[0] < lo || s[0] > hi {
				return false
			}
			continue
		}
		t, u := (lo-s[0])/s[1], (hi-s[0])/s[1]
		from, to = math.Max(from, math.Min(t, u)), math.Min(to, math.Max(t, u))
	}
	return from <= to
}

// around are the spots about a point: close by first, then farther off.
var around = sync.OnceValue(func() (out []spot) {
	for _, r := range []float64{12, 26, 44, 66, 92, 120} {
		out = append(out, spot{0, -r, middle}, spot{r, 8, start}, spot{-r, 8, end}, spot{0.7 * r, -0.7 * r, start}, spot{0.7 * r, r + 17, start},
			spot{-0.7 * r, -0.7 * r, end}, spot{-0.7 * r, r + 17, end}, spot{0, r + 24, middle})
	}
	return out
})

// note adds a text that finds its own place about a point.
func (p *picture) note(at xy, text string) {
	p.notes = append(p.notes, note{at: at, spots: around(), text: text, far: 30})
}

// noteAt is note with spots of its own.
func (p *picture) noteAt(at xy, text string, spots ...spot) {
	p.notes = append(p.notes, note{at: at, spots: spots, text: text, far: math.Inf(1)})
}

// settle gives every note its place, the first ones first.
func (p *picture) settle() *picture {
	for _, n := range p.notes {
		best, least := 0, math.Inf(1)
		for i, s := range n.spots {
			if cost := p.cost(boxOf(xy{n.at.x + s.dx, n.at.y + s.dy}, s.anchor, n.text), least); cost < least {
				best, least = i, cost
			}
			if least == 0 {
				break
			}
		}
		s := n.spots[best]
		at := xy{n.at.x + s.dx, n.at.y + s.dy}
		p.lead(n, s, boxOf(at, s.anchor, n.text))
		p.text(classNote, at, s.anchor, n.text)
	}
	p.notes = nil
	return p
}

// lead draws the thin line from a note that stands far off to what it is about.
func (p *picture) lead(n note, s spot, b box) {
	from, reach := n.at, math.Hypot(s.dx, s.dy)
	if n.level {
		from.x, reach = b.left+12, math.Abs(s.dy)-clearDown
	}
	if reach <= n.far {
		return
	}
	to := xy{math.Max(b.left, math.Min(from.x, b.right)), b.foot - 2}
	if from.y < b.top {
		to.y = b.top + 4
	}
	p.line(classLeader, from, to)
}

// cost counts what is in the way of a text: lines and texts, and above all the edge of the picture. It counts no further than
// to enough.
func (p *picture) cost(b box, enough float64) float64 {
	n := 0.0
	if b.left < 2 || b.right > width-2 || b.top < 0 || b.foot > height {
		n += 100
	}
	for i := range p.marks {
		if n >= enough {
			break
		}
		switch m := &p.marks[i]; {
		case m.text != "":
			if b.touches(m.room) {
				n += 10
			}
		case m.class == classGrid:
		case len(m.points) == 1:
			if q := m.points[0]; b.touches(box{q.x - 4, q.y - 4, q.x + 4, q.y + 4}) {
				n++
			}
		default:
			n += float64(m.crosses(b))
		}
	}
	return n
}

// crosses counts the pieces of a line that go through a box.
func (m *mark) crosses(b box) int {
	pts, n := m.points, 0
	for i := 1; i < len(pts); i++ {
		if b.crossed(pts[i-1], pts[i]) {
			n++
		}
	}
	if m.closed && b.crossed(pts[len(pts)-1], pts[0]) {
		n++
	}
	return n
}

// shaped marks a point in a shape that tells its set: the first is round, the second square, the third a triangle.
func (p *picture) shaped(set int, at xy) {
	const r = 4.0
	switch set % 3 {
	case 0:
		p.dot(classPoint, at)
	case 1:
		p.loop(classPoint, []xy{{at.x - r, at.y - r}, {at.x + r, at.y - r}, {at.x + r, at.y + r}, {at.x - r, at.y + r}})
	default:
		p.loop(classPoint, []xy{{at.x, at.y - 5}, {at.x + 5, at.y + r}, {at.x - 5, at.y + r}})
	}
}

// isAngle reports whether the name of a scale is one of degrees.
func isAngle(name string) bool {
	return strings.Contains(name, "°") || strings.Contains(name, "degrees")
}
