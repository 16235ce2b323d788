package drawing

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

func boreRows() []Row {
	size := Drive{Name: "size", Kind: quantity.Length, Least: 0, Usual: 20, Most: 200, Says: "what the gauge reads"}
	return []Row{
		{
			Name: "bore", draw: bore,
			Says: "Barrel cut, the bore gauge at its depth; beside it the bore from above with the axis that is read",
			Jobs: []string{"bores", "wash-barrels"},
			Live: "size",
			Drives: []Drive{
				size,
				{Name: "depth", Kind: quantity.Length, Least: 0, Usual: 40, Most: 200, Says: "of the gauge's contacts below the joint face"},
				{Name: "depth_1", Kind: quantity.Length, Least: 0, Usual: 10, Most: 200, Says: "the first of the depths that are read"},
				{Name: "depth_2", Kind: quantity.Length, Least: 0, Usual: 40, Most: 200, Says: "the second"},
				{Name: "depth_3", Kind: quantity.Length, Least: 0, Usual: 75, Most: 200, Says: "the third"},
				{Name: "height", Kind: quantity.Length, Least: 40, Usual: 95, Most: 250, Says: "of the barrel; it gives the scale"},
			},
			Lights: []string{"left.top.thrust", "right.middle.pin", "left.bottom.thrust", "right.piston"},
		},
		{
			Name: "ring-feeler", draw: ringFeeler,
			Says:   "Piston ring square in its bore, from above, a feeler in its gap; beside it how deep the ring stands",
			Jobs:   []string{"rings"},
			Live:   "gap",
			Drives: []Drive{{Name: "gap", Kind: quantity.Length, Least: 0, Usual: 0.012 * inch, Most: 0.08 * inch, Says: "between the ring's ends, drawn much enlarged"}, {Name: "depth", Kind: quantity.Length, Least: 0, Usual: 40, Most: 90, Says: "of the ring below the joint face"}},
			Moves:  []string{"file"},
			Lights: []string{"left.top.gap", "right.second.gap"},
		},
		{
			Name: "ring-side", draw: ringSide,
			Says:   "Ring in its groove at the edge of the piston, cut: the feeler goes in beside the ring",
			Jobs:   []string{"rings"},
			Live:   "side",
			Drives: []Drive{{Name: "side", Kind: quantity.Length, Least: 0, Usual: 0.002 * inch, Most: 0.02 * inch, Says: "the free width beside the ring, drawn much enlarged"}},
			Lights: []string{"left.top.side", "right.second.side"},
		},
		{
			Name: "ring-gaps", draw: ringGaps,
			Says: "Piston from above, front at the top: where the gap of each ring stands",
			Jobs: []string{"rings", "pistons-ready"},
			Drives: []Drive{
				{Name: "gap_1", Kind: quantity.Angle, Least: -1e6, Usual: 45, Most: 1e6, Says: "of the top ring's gap from the front, clockwise"},
				{Name: "gap_2", Kind: quantity.Angle, Least: -1e6, Usual: 225, Most: 1e6, Says: "of the second ring's"},
				{Name: "gap_3", Kind: quantity.Angle, Least: -1e6, Usual: 135, Most: 1e6, Says: "of the oil ring's"},
			},
			Choices: []Choice{{Name: "rings", Of: []string{"2", "3", "1"}, Says: "how many there are"}},
			Lights:  []string{"left.top", "right.second"},
		},
		{
			Name: "pin-fit", draw: pinFit,
			Says:   "Piston pin through the piston's bosses and the small end, cut: each is measured where it is lit",
			Jobs:   []string{"pins"},
			Live:   "size",
			Drives: []Drive{size},
			Lights: []string{"left.small-end", "right.boss", "left.pin"},
		},
		{
			Name: "clip", draw: clip,
			Says:    "Piston boss from its end: the round clip in its groove, one end past the notch",
			Jobs:    []string{"pistons-ready", "pistons-on"},
			Choices: []Choice{{Name: "which", Of: []string{"inner", "outer"}, Says: "the clip that faces the other piston, or the one away from it"}},
			Moves:   []string{"lever in", "turn"},
			Lights:  []string{"left", "right"},
		},
	}
}

// barrelWalls draws the two walls of a finned barrel, cut: inside at cx ± inner, from y0 down to y0 + 372.
func (s *scene) barrelWalls(cx, inner, y0 float64) {
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			t := s.from(x(inner), y0).h(x(inner + 32))
			for i := range 7 {
				y := y0 + 26 + float64(i)*38
				t.v(y).h(x(inner + 66)).v(y + 13).h(x(inner + 32))
			}
			t.v(y0 + 306).h(x(inner + 66)).v(y0 + 332).h(x(inner + 22)).v(y0 + 372).h(x(inner)).close().cut(rising)
		}
		s.line(classOutline, cx-inner, y0, cx+inner, y0)
		s.line(classOutline, cx-inner, y0+372, cx+inner, y0+372)
	})
}

// bore: 360 units are the barrel's height below the joint face y = 96.
func bore(s *scene) {
	const cx, y0, inner = 200, 96, 112
	k := 360 / s.num("height")
	y := func(mm float64) float64 { return y0 + k*min(mm, s.num("height")) }
	depth := s.num("depth")
	if !s.known("depth") {
		switch {
		case s.at("top"):
			depth = s.num("depth_1")
		case s.at("bottom"):
			depth = s.num("depth_3")
		case s.at("middle"):
			depth = s.num("depth_2")
		}
	}
	at := y(depth)
	s.barrelWalls(cx, inner, y0)
	s.line(classAxis, cx, 70, cx, 476)
	for _, n := range []string{"depth_1", "depth_2", "depth_3"} {
		if s.known(n) || !s.known("depth") {
			s.line(classThin, cx-inner, y(s.num(n)), cx+inner, y(s.num(n)))
		}
	}
	thrust := !s.at("pin")
	if s.at("piston") {
		s.pistonSize()
	} else {
		s.boreGauge(cx-inner, at, cx+inner, at, 0, -(at - 22))
	}
	if s.known("depth") && !s.at("piston") {
		s.line(classThin, cx+inner+8, at, 424, at)
		s.line(classThin, cx+inner+8, y0, 424, y0)
		s.dim(410, y0, 410, at, classValue, s.written("depth", ""), 430, min((y0+at)/2+12, 158), Start)
	}
	s.borePlan(thrust)
	s.figured("", "size")
	s.say(map[bool]string{true: "thrust axis, front to rear", false: "pin axis, left to right"}[thrust])
}

func (s *scene) pistonSize() {
	s.as("piston", func() {
		s.rect(classLitBody, 104, 176, 192, 220, 8)
		for _, q := range []float64{196, 220, 244} {
			s.line(classThin, 104, q, 296, q)
		}
		s.circle(classOutline, 200, 310, 30)
	})
	s.micrometer(104, 296, 360, 70, 1)
}

// borePlan is the bore from above, front at the top, with the axis that is read lit.
func (s *scene) borePlan(thrust bool) {
	const cx, cy, r = 524, 282, 72
	s.as("bore from above", func() {
		s.circle(classOutline, cx, cy, r)
		s.line(pick(thrust, classLitLine, classAxis), cx, cy-r+6, cx, cy+r-6)
		s.line(pick(thrust, classAxis, classLitLine), cx-r+6, cy, cx+r-6, cy)
	})
	s.front(cx-36, cy-r-12, "up")
	s.text(className, cx, cy+r+50, map[bool]string{true: "thrust", false: "pin"}[thrust], Middle)
	if side := s.side(); side != "" {
		s.text(className, cx, cy+r+100, side, Middle)
	}
}

// ringFeeler: the gap is drawn 2,000 units an inch, at least 14.
func ringFeeler(s *scene) {
	const cx, cy, outer, inner = 190, 296, 158, 132
	g := max(14, 2000/inch*s.num("gap"))
	h := g / 2 / (outer + inner) * 2 * 180 / math.Pi
	s.circle(classOutline, cx, cy, outer+7)
	s.line(classAxis, cx, 100, cx, 476)
	s.line(classAxis, 8, cy, 372, cy)
	s.as("ring", func() {
		t := &trace{k: s.k()}
		t.arc(cx, cy, outer, h, 360-h).arc(cx, cy, inner, 360-h, h).close().draw(classLitWash)
	})
	s.feeler(cx, cy-inner+26, 0, g-5, 64)
	if s.n.Move == "file" {
		s.turn("anticlockwise", cx, cy, 96, 74, 24)
		s.turn("clockwise", cx, cy, 96, -74, -24)
		s.say("file both ends")
	}
	s.text(classNote, cx, cy+70, "from above", Middle)
	y := 128 + 3.2*s.num("depth")
	s.as("how deep", func() {
		s.from(440, 110).h(472).v(430).h(440).close().cut(rising)
		s.from(592, 110).h(624).v(430).h(592).close().cut(rising)
		s.line(classOutline, 472, 110, 592, 110)
		s.line(classAxis, 532, 92, 532, 440)
		s.rect(classLitWash, 474, y, 116, 12, 0)
	})
	s.dim(508, 110, 508, y, classNote, "", 0, 0, Middle)
	if v := s.written("depth", ""); v != "" {
		s.text(classValue, 624, 466, v+" down", End)
	}
	s.ringName()
	s.figured("gap", "gap")
}

func (s *scene) ringName() {
	ring := map[bool]string{true: "top"}[s.at("top")] + map[bool]string{true: "second"}[s.at("second")] + map[bool]string{true: "oil"}[s.at("oil")]
	s.named(s.side(), ring)
}

// ringSide: the free width is drawn 6,000 units an inch, at least 8.
func ringSide(s *scene) {
	g := min(60, max(10, 6000/inch*s.num("side")))
	const x, top, ring = 300, 220, 84
	s.as("piston", func() {
		s.from(60, 110).h(x + 40).v(top).h(140).v(top + ring + g).h(x + 40).v(440).h(60).close().cut(rising)
	})
	s.as("ring", func() { s.from(176, top+g).h(x + 60).v(top + g + ring).h(176).close().cutLit(falling) })
	s.as("bore", func() { s.from(x+66, 96).h(x + 150).v(456).h(x + 66).close().cut(falling) })
	s.feeler(204, top+g/2+1, 90, g-4, 90)
	s.line(classAxis, 30, top+g+ring/2, 480, top+g+ring/2)
	s.line(classThin, 480, top, 580, top)
	s.line(classThin, 480, top+g, 580, top+g)
	s.dim(560, top, 560, top+g, classNote, "", 0, 0, Middle)
	s.text(classNote, 60, 92, "crown", Start)
	s.ringName()
	s.figured("", "side")
}

// ringGaps draws each ring on a circle of its own, the top ring outermost.
func ringGaps(s *scene) {
	const cx, cy = 300, 270
	names := []string{"top", "second", "oil"}
	count := map[string]int{"1": 1, "2": 2, "3": 3}[s.is("rings")]
	s.as("piston", func() {
		s.circle(classOutline, cx, cy, 170)
		s.rect(classHidden, cx-160, cy-28, 320, 56, 0)
		s.line(classAxis, cx, 70, cx, 476)
		s.line(classAxis, 90, cy, 510, cy)
	})
	var labels []float64
	for i := range count {
		on := s.at(names[i])
		a, r := s.num([]string{"gap_1", "gap_2", "gap_3"}[i]), 150-34*float64(i)
		s.as(names[i]+" ring", func() {
			t := &trace{k: s.k()}
			t.arc(cx, cy, r, a+7, a+353).draw(pick(on, classRingLit, classRing))
			p, q := polar(cx, cy, r, a), polar(cx, cy, 188, a)
			s.line(classThin, p.X, p.Y, q.X, q.Y)
			b := a
			for slices.ContainsFunc(labels, func(o float64) bool { return math.Abs(math.Remainder(o-b, 360)) < 16 }) {
				b += 16 // two gaps at one place: their numbers stand beside each other
			}
			labels = append(labels, b)
			c := polar(cx, cy, 208, b)
			s.centred(pick(on, className, classValue), c.X, c.Y, []string{"1", "2", "3"}[i])
		})
		if on {
			if v := s.written([]string{"gap_1", "gap_2", "gap_3"}[i], ""); v != "" {
				s.centred(classFigure, cx, cy, v)
				s.say("the " + names[i] + " ring's gap at " + v + " from the front, clockwise")
			}
		}
	}
	s.front(cx+110, 66, "up")
	s.text(classNote, 630, cy+10, "pin", End)
	s.ringName()
}

// pinFit: piston cut along its pin, the rod between the bosses.
func pinFit(s *scene) {
	s.as("piston", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return 320 + m*v }
			s.from(320, 110).h(x(190)).v(440).h(x(160)).v(330).h(x(70)).v(270).h(x(190 - 30)).h(x(190 - 30)).v(270).close().draw(classGround)
			s.from(x(0), 110).h(x(190)).v(240).h(x(64)).v(170).h(x(0)).close().cut(rising)
			s.from(x(190), 304).v(440).h(x(160)).v(350).h(x(64)).v(304).close().cut(rising)
			if s.at("boss") {
				s.line(classLit, x(64), 240, x(190), 240)
				s.line(classLit, x(64), 304, x(190), 304)
			}
		}
	})
	s.as("rod", func() {
		s.from(268, 190).h(372).v(238).h(268).close().cut(falling)
		s.from(268, 306).h(372).v(352).h(346).v(450).h(294).v(352).h(268).close().cut(falling)
		if s.at("small") {
			s.line(classLit, 268, 238, 372, 238)
			s.line(classLit, 268, 306, 372, 306)
		}
	})
	s.line(classAxis, 320, 90, 320, 476)
	s.line(classAxis, 90, 272, 560, 272)
	switch {
	case s.at("small"):
		s.boreGauge(320, 238, 320, 306, -290, 0)
		s.named(s.side(), "small end")
	case s.at("boss"):
		s.boreGauge(440, 240, 440, 304, 170, 0)
		s.named(s.side(), "piston")
	default:
		s.as("pin", func() { s.rect(pick(s.at("pin"), classLitBody, classBody), 136, 242, 368, 60, 0) })
		if s.at("pin") {
			s.named(s.side(), "pin")
		}
	}
	s.figured("", "size")
}

// clip: the groove is a ring; the clip lies in it with its gap beside the notch.
func clip(s *scene) {
	const cx, cy = 300, 268
	s.as("piston boss", func() {
		s.k().cut(classCut, append(s.k().box(110, 86, 380, 370, 60).segs, s.k().disc(cx, cy, 120)...), rising)
		s.from(cx-26, cy+112).v(cy + 156).h(cx + 26).v(cy + 112).draw(classBody)
		s.circle(classThin, cx, cy, 132)
	})
	s.as("pin", func() {
		s.circle(classBody, cx, cy, 104)
		s.circle(classOutline, cx, cy, 58)
		s.line(classAxis, cx, 70, cx, 476)
		s.line(classAxis, 90, cy, 510, cy)
	})
	s.as("clip", func() {
		t := &trace{k: s.k()}
		t.arc(cx, cy, 124, 196, 516).draw(classRingLit)
	})
	s.named(s.side(), s.is("which"))
	s.text(classNote, 620, 474, "notch", End)
	s.line(classThin, 532, 462, cx+30, cy+150)
	switch s.n.Move {
	case "turn":
		s.turn("clockwise", cx, cy, 82, -50, 50)
		s.say("turn the clip to prove that it is home all round")
	case "lever in":
		s.arrow("up", cx+4, 474, cx+4, 420, 18)
		s.say("lever the free end in at the notch, guarded")
	}
}
