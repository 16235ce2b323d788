package drawing

import (
	"math"

	"thoud/calc/quantity"
)

func boltRows() []Row {
	return []Row{
		{
			Name: "bolts", draw: boltCircle,
			Says:    "Seen from above: the bolts with their numbers, in the order of tightening",
			Jobs:    []string{"head-bolts", "base-bolts", "retorque"},
			Live:    "stretch",
			Drives:  []Drive{{Name: "stretch", Kind: quantity.Length, Least: -1, Usual: 0, Most: 1, Says: "how much longer the bolt has become"}, {Name: "torque", Kind: quantity.Torque, Least: 0, Usual: 0, Most: 500, Says: "to tighten to"}},
			Choices: []Choice{{Name: "part", Of: []string{"head", "base"}, Says: "what the bolts hold"}, {Name: "bores", Of: []string{"two", "none"}, Says: "whether the two of a parallel twin are drawn"}},
			Moves:   []string{"tighten", "slacken"},
			Lights:  []string{"5", "bolt-2"},
			Bolts:   true,
		},
	}
}

// nine is the usual head of a twin: drawn where a plan does not say where its bolts are.
var nine = []Bolt{
	{Name: "1", X: 0, Y: 0}, {Name: "2", X: 0, Y: -1}, {Name: "3", X: 0, Y: 1}, {Name: "4", X: 1.4, Y: 0}, {Name: "5", X: -1.4, Y: 0},
	{Name: "6", X: 1.4, Y: -1}, {Name: "7", X: -1.4, Y: 1}, {Name: "8", X: -1.4, Y: -1}, {Name: "9", X: 1.4, Y: 1},
}

// boltCircle fits the bolts into a plate of 470 by 270 about 320, 250, front at the top.
func boltCircle(s *scene) {
	bolts := s.n.Bolts
	if len(bolts) == 0 {
		bolts = nine
	}
	at := fit(bolts, 320, 260, 216, 140)
	now, next := order(bolts, s.n.Point)
	s.as("plate", func() {
		s.rect(classOutline, 36, 56, 568, 410, 46)
		for _, x := range bores(s) {
			s.circle(classHidden, x, 260, 82)
			s.line(classAxis, x, 162, x, 358)
		}
		s.line(classAxis, 60, 260, 580, 260)
	})
	if now >= 0 && next >= 0 {
		s.way(at[now], at[next])
	}
	for i, b := range bolts {
		s.as("bolt "+b.Name, func() { s.bolt(at[i], b, i == now) })
	}
	s.front(300, 42, "up")
	s.text(classNote, 44, 42, s.is("part"), Start)
	if s.is("part") == "base" {
		for _, x := range bores(s) {
			s.circle(classThin, x, 260, 74)
		}
	}
	v := s.written("stretch", s.written("torque", ""))
	if v != "" {
		s.text(classFigure, 604, 42, v, End)
	}
	if now >= 0 {
		s.say("bolt " + bolts[now].Name + " now" + map[bool]string{true: ": " + v, false: ""}[v != ""])
	}
	if next >= 0 {
		s.say("then bolt " + bolts[next].Name)
	}
}

// bores are where the bores of a twin stand; none of another engine, whose bolts are known by their order alone.
func bores(s *scene) []float64 {
	if s.is("bores") == "none" {
		return nil
	}
	return []float64{212, 428}
}

// order finds the bolt to do now and the one after it: as they are marked, else the one that the point names, else none.
func order(bolts []Bolt, point string) (now, next int) {
	now, next = -1, -1
	for i, b := range bolts {
		if b.Now || b.Name != "" && (point == b.Name || point == "bolt-"+b.Name || point == "b"+b.Name) {
			now = i
		}
		if b.Next {
			next = i
		}
	}
	if now >= 0 && next < 0 && now+1 < len(bolts) && !bolts[now+1].Done {
		next = now + 1
	}
	return now, next
}

// fit gives the places of the bolts in the drawing: the same scale across and down, as large as the half width and half
// height allow, each direction stretched by at most half as much again.
func fit(bolts []Bolt, cx, cy, w, h float64) []XY {
	x1, x2, y1, y2 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, b := range bolts {
		x1, x2, y1, y2 = min(x1, b.X), max(x2, b.X), min(y1, b.Y), max(y2, b.Y)
	}
	kx, ky := 2*w/max(x2-x1, 1e-9), 2*h/max(y2-y1, 1e-9)
	kx, ky = min(kx, 1.5*ky), min(ky, 1.5*kx)
	at := make([]XY, len(bolts))
	for i, b := range bolts {
		at[i] = XY{cx + kx*(b.X-(x1+x2)/2), cy + ky*(b.Y-(y1+y2)/2)}
	}
	return at
}

// way is the thin arrow from the bolt that is done now to the next.
func (s *scene) way(p, q XY) {
	l := math.Hypot(q.X-p.X, q.Y-p.Y)
	ux, uy := (q.X-p.X)/l, (q.Y-p.Y)/l
	s.as("way to the next", func() {
		s.line(classThin, p.X+ux*48, p.Y+uy*48, q.X-ux*54, q.Y-uy*54)
		s.head(q.X-ux*46, q.Y-uy*46, ux, uy)
	})
}

func (s *scene) bolt(p XY, b Bolt, now bool) {
	if now {
		s.hexagon(classLitWash, p.X, p.Y, 42, 0)
		s.centred(classOnWash, p.X, p.Y, b.Name)
		switch s.n.Move {
		case "tighten":
			s.turn("clockwise", p.X, p.Y, 58, 215, 325)
		case "slacken":
			s.turn("anticlockwise", p.X, p.Y, 58, 325, 215)
		}
		return
	}
	s.hexagon(classBody, p.X, p.Y, 38, 0)
	s.centred(pick(b.Done, classDone, classValue), p.X, p.Y, b.Name)
	if b.Done {
		s.line(classBar, p.X-26, p.Y+48, p.X+26, p.Y+48)
	}
}
