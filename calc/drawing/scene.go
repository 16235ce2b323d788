package drawing

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// scene is a drawing in the making: the strokes, and what drives them.
type scene struct {
	canvas
	row  Row
	n    Numbers
	lit  []string // the words of the point
	says []string
}

func newScene(r Row, n Numbers) *scene {
	return &scene{canvas: canvas{m: identity}, row: r, n: n, lit: wordsOf(n.Point)}
}

// wordsOf takes a point's or a drawing's name apart: left.bolt-2 is left, bolt, 2.
func wordsOf(name string) []string {
	return strings.FieldsFunc(strings.ToLower(name), func(c rune) bool { return c == '.' || c == '-' || c == ' ' || c == '_' })
}

// degrees finds the angle that the point names ("135deg"), and how it is written.
func (s *scene) degrees() (deg float64, text string, ok bool) {
	for _, w := range s.lit {
		if number, is := strings.CutSuffix(w, "deg"); is {
			if v, err := strconv.ParseFloat(number, 64); err == nil {
				return v, number + "°", true
			}
		}
	}
	return 0, "", false
}

// angle is the number of that name, else the angle that the point names.
func (s *scene) angle(name string) (deg float64, text string) {
	if deg, text, ok := s.degrees(); ok && !s.known(name) {
		return deg, text
	}
	return s.num(name), s.written(name, "")
}

// fromTop takes the sign off an angle from the top and says the side in words: that of a positive one, or the other.
func fromTop(text, positive, negative string) (amount, where string) {
	for _, minus := range []string{"-", "−"} {
		if rest, ok := strings.CutPrefix(text, minus); ok {
			return rest, negative
		}
	}
	return text, positive
}

// move is the move that was asked for, else the one that the point names: "forward", "push".
func (s *scene) move() string {
	if s.n.Move != "" {
		return s.n.Move
	}
	for _, m := range s.row.Moves {
		if s.at(m) {
			return m
		}
	}
	return ""
}

// words is the drawing for those who cannot see it.
func (s *scene) words() string {
	return strings.Join(append([]string{s.row.Says}, s.says...), "; ")
}

func (s *scene) say(words string) { s.says = append(s.says, words) }

// at reports whether the point's name has one of these words.
func (s *scene) at(words ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(s.lit, w) })
}

// side is the cylinder that the point names: "left", "right", or "" where it names neither.
func (s *scene) side() string {
	switch {
	case s.at("left"):
		return "left"
	case s.at("right"):
		return "right"
	}
	return ""
}

// valve is the valve that the point names.
func (s *scene) valve() string {
	switch {
	case s.at("inlet"):
		return "inlet"
	case s.at("exhaust"):
		return "exhaust"
	}
	return ""
}

func (s *scene) drive(name string) Drive {
	for _, d := range s.row.Drives {
		if d.Name == name {
			return d
		}
	}
	panic("drawing " + s.row.Name + " asks for a number that its row does not have: " + name)
}

// num is a number as it can be drawn: its usual value where it is not known, never beyond what has room.
func (s *scene) num(name string) float64 {
	d := s.drive(name)
	v, ok := s.n.Of[name]
	if !ok {
		return d.Usual
	}
	return math.Min(math.Max(v.Value, d.Least), d.Most)
}

// known reports whether a number was given.
func (s *scene) known(name string) bool {
	s.drive(name)
	_, ok := s.n.Of[name]
	return ok
}

// written is a number's text, or instead what is written where there is none.
func (s *scene) written(name, instead string) string {
	s.drive(name)
	if v, ok := s.n.Of[name]; ok && v.Text != "" {
		return v.Text
	}
	return instead
}

// is gives the answer to a choice.
func (s *scene) is(name string) string {
	for _, c := range s.row.Choices {
		if c.Name == name {
			if v, ok := s.n.Is[name]; ok {
				return v
			}
			return c.Of[0]
		}
	}
	panic("drawing " + s.row.Name + " asks for a choice that its row does not have: " + name)
}

// pick gives the lit class where on holds.
func pick(on bool, lit, plain string) string {
	if on {
		return lit
	}
	return plain
}

// head is a filled arrow head of a dimension, its point at x, y, looking along ux, uy.
func (k *canvas) head(x, y, ux, uy float64) {
	k.poly(classHead, x, y, x-ux*20-uy*7, y-uy*20+ux*7, x-ux*20+uy*7, y-uy*20-ux*7)
}

// span draws a dimension line between two places, heads inside where there is room for them, else outside.
func (k *canvas) span(x1, y1, x2, y2 float64) {
	l := math.Hypot(x2-x1, y2-y1)
	if l < 1e-6 {
		l, y2 = 1e-6, y1+1e-6
	}
	ux, uy := (x2-x1)/l, (y2-y1)/l
	k.line(classThin, x1, y1, x2, y2)
	if l >= 52 {
		k.head(x1, y1, -ux, -uy)
		k.head(x2, y2, ux, uy)
		return
	}
	k.line(classThin, x1-ux*44, y1-uy*44, x1, y1)
	k.line(classThin, x2, y2, x2+ux*44, y2+uy*44)
	k.head(x1, y1, ux, uy)
	k.head(x2, y2, -ux, -uy)
}

// dim is span with its text at tx, ty.
func (s *scene) dim(x1, y1, x2, y2 float64, class, txt string, tx, ty float64, a Anchor) {
	s.as("dimension", func() {
		s.span(x1, y1, x2, y2)
		s.text(class, tx, ty, txt, a)
	})
}

// arrow is the move meant, from one place to another; says is which way that is, in a word. Its width is w.
func (s *scene) arrow(says string, x1, y1, x2, y2, w float64) {
	s.straight(says, classMove, true, x1, y1, x2, y2, w)
}

// backArrow is the empty arrow of the move that comes after, or goes the other way.
func (s *scene) backArrow(says string, x1, y1, x2, y2, w float64) {
	s.straight(says, classBack, false, x1, y1, x2, y2, w)
}

func (s *scene) straight(says, class string, meant bool, x1, y1, x2, y2, w float64) {
	l := math.Hypot(x2-x1, y2-y1)
	ux, uy := (x2-x1)/l, (y2-y1)/l
	px, py := -uy, ux
	hl := math.Min(w*1.9, l*0.7)
	bx, by := x2-ux*hl, y2-uy*hl
	a, b := w/2, w*1.3
	s.as("move", func() {
		s.poly(class, x1+px*a, y1+py*a, bx+px*a, by+py*a, bx+px*b, by+py*b, x2, y2, bx-px*b, by-py*b, bx-px*a, by-py*a, x1-px*a, y1-py*a)
	})
	s.arrows = append(s.arrows, Arrow{Says: says, From: s.m.at(x1, y1), To: s.m.at(x2, y2), Meant: meant})
}

// turn is a move round a centre, from one bearing to another (degrees from upwards, clockwise positive).
func (s *scene) turn(says string, cx, cy, r, from, to float64) {
	s.round(says, classMoveLine, classMove, true, cx, cy, r, from, to)
}

// backTurn is the empty arrow of the turn that comes after.
func (s *scene) backTurn(says string, cx, cy, r, from, to float64) {
	s.round(says, classBackLine, classBack, false, cx, cy, r, from, to)
}

func (s *scene) round(says, line, head string, meant bool, cx, cy, r, from, to float64) {
	const w = 26
	d := 1.0
	if to < from {
		d = -1
	}
	s.as("move", func() {
		t := &trace{k: &s.canvas}
		t.arc(cx, cy, r, from, to).draw(line)
		a, b, c := polar(cx, cy, r-w*0.62, to), polar(cx, cy, r, to+d*w/r*180/math.Pi), polar(cx, cy, r+w*0.62, to)
		s.poly(head, a.X, a.Y, b.X, b.Y, c.X, c.Y)
	})
	p, q := polar(cx, cy, r, from), polar(cx, cy, r, to)
	s.arrows = append(s.arrows, Arrow{Says: says, From: s.m.at(p.X, p.Y), To: s.m.at(q.X, q.Y), Turn: to - from, Meant: meant})
}

// indicator stands with its tip at x, y, turned by deg (0 = its body above the tip).
func (s *scene) indicator(x, y, deg, stem, size float64) {
	s.as("indicator", func() {
		s.placed(x, y, deg, size, func() {
			s.line(classOutline, 0, -14, 0, -stem)
			s.rect(classBody, -10, -stem-46, 20, 46, 0)
			s.rect(classBody, -40, -stem-140, 80, 96, 10)
			s.rect(classThin, -27, -stem-126, 54, 32, 3)
			s.line(classOutline, 0, -stem-140, 0, -stem-156)
			s.circle(classTip, 0, -9, 10)
		})
	})
}

// front is the mark that says where the front of the engine is: a triangle that points to it, and the word.
func (s *scene) front(x, y float64, towards string) {
	s.as("front mark", func() {
		const h, w = 22, 14
		s.placed(x, y, map[string]float64{"up": 0, "right": 90, "down": 180, "left": 270}[towards], 1, func() {
			s.poly(classThin, 0, -h, w, 0, -w, 0)
		})
		switch towards {
		case "up":
			s.text(classNote, x+20, y+2, "front", Start)
		case "down":
			s.text(classNote, x+20, y+16, "front", Start)
		}
	})
}

// coil draws the cut wires of a coil spring about an axis: n wires a side from y1 down to y2, at radius r.
func (k *canvas) coil(lit bool, cx, r, wire, y1, y2 float64, n int) {
	body, h := pick(lit, classLitCut, classCut), hatching{-45, 7}
	step := (y2 - y1 - 2*wire) / float64(n-1)
	for i := range n {
		for j, x := range []float64{cx - r, cx + r} {
			y := y1 + wire + step*(float64(i)+float64(j)/2)
			if y > y2-wire+0.1 {
				continue
			}
			t := &trace{k: k}
			t.arc(x, y, wire, 0, 360).close()
			k.cut(body, t.segs, h)
		}
	}
}

// named writes what is meant in the top left corner: a side, a valve, a part.
func (s *scene) named(words ...string) {
	s.text(className, 20, 54, join(words), Start)
}

// figured writes a number's text in the top right corner, after its letter where the drawing has one.
func (s *scene) figured(letter, number string) {
	v := s.written(number, "")
	if v == "" {
		return
	}
	s.text(classFigure, 620, 54, join([]string{letter, v}), End)
	s.say(join([]string{letter, v}))
}

func join(words []string) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" }), " ")
}

// disc is a closed circle as a path, for a cut.
func (k *canvas) disc(x, y, r float64) []Segment {
	t := &trace{k: k}
	return t.arc(x, y, r, 0, 360).close().segs
}

// boreGauge stands along an axis: its two contacts at x1, y1 and x2, y2, its handle along hx, hy from the middle.
func (s *scene) boreGauge(x1, y1, x2, y2, hx, hy float64) {
	mx, my := (x1+x2)/2, (y1+y2)/2
	l := math.Hypot(x2-x1, y2-y1)
	ux, uy := (x2-x1)/l, (y2-y1)/l
	s.as("bore gauge", func() {
		w := min(36, l/3)
		s.placed(mx, my, math.Atan2(hx, -hy)*180/math.Pi, 1, func() { s.rect(classBody, -11, -math.Hypot(hx, hy), 22, math.Hypot(hx, hy), 0) })
		s.placed(mx, my, math.Atan2(uy, ux)*180/math.Pi, 1, func() { s.rect(classBody, -w, -14, 2*w, 28, 8) })
		s.line(classLitLine, x1+ux*8, y1+uy*8, mx-ux*w, my-uy*w)
		s.line(classLitLine, mx+ux*w, my+uy*w, x2-ux*8, y2-uy*8)
		s.circle(classTip, x1+ux*8, y1+uy*8, 9)
		s.circle(classTip, x2-ux*8, y2-uy*8, 9)
	})
}

// micrometer embraces a round part: its two faces at x1 and x2 on the height y, its frame below (down = 1) or above (−1).
func (s *scene) micrometer(x1, x2, y, reach, down float64) {
	s.as("micrometer", func() {
		s.from(x1-12, y-16*down).h(x1-38).v(y+reach*down).to(x1-10, y+(reach+34)*down).h(x2+26).to(x2+54, y+reach*down).v(y-16*down).h(x2+26).v(y+16*down).
			to(x2+20, y+(reach-6)*down).h(x1-4).to(x1-12, y+16*down).close().draw(classBody)
		s.rect(classBody, x2+54, y-15, 40, 30, 4)
		s.line(classLitLine, x1-10, y-12, x1-10, y+12)
		s.line(classOutline, x2+8, y, x2+26, y)
		s.line(classLitLine, x2+8, y-12, x2+8, y+12)
	})
}

// feeler is a blade whose tip stands at x, y, its holder along the bearing.
func (s *scene) feeler(x, y, bearing, thick, length float64) {
	s.as("feeler", func() {
		s.placed(x, y, bearing, 1, func() {
			s.rect(classLitWash, -thick/2, -length, thick, length, 0)
			s.rect(classBody, -17, -length-54, 34, 60, 6)
		})
	})
}

// lobe is a cam's outline: base circle rb, nose rn, lift; its nose at a bearing.
func (k *canvas) lobe(class string, cx, cy, rb, rn, lift, bearing float64) {
	d := rb + lift - rn
	ph := math.Acos((rb-rn)/d) * 180 / math.Pi
	n := polar(cx, cy, d, bearing)
	t := &trace{k: k}
	t.arc(cx, cy, rb, bearing+ph, bearing+360-ph).arc(n.X, n.Y, rn, bearing-ph, bearing+ph).close().draw(class)
}

// rise is how high a flat foot stands over the cam's centre when the nose is at a bearing: the outline's top.
func rise(rb, rn, lift, bearing float64) float64 {
	d := rb + lift - rn
	return math.Max(rb, d*math.Cos(bearing*math.Pi/180)+rn)
}
