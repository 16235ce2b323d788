package drawing

// camshaftFloat: the gap at the right bearing's thrust face is the float, drawn much enlarged.
func camshaftFloat(s *scene) {
	const y = 220
	shift := min(14, max(5, 300/inch*s.num("float")))
	if s.move() == "push" {
		shift = -shift
	}
	s.as("case walls", func() {
		for _, m := range []float64{-1, 1} {
			yy := func(v float64) float64 { return y + m*v }
			s.from(60, yy(52)).h(120).v(yy(150)).h(60).close().cut(rising)
			s.from(440, yy(52)).h(500).v(yy(150)).h(440).close().cut(rising)
			s.from(60, yy(26)).h(120).v(yy(50)).h(60).close().cut(hatching{45, 8})
			s.from(440, yy(26)).h(500).v(yy(50)).h(440).close().cut(hatching{45, 8})
		}
	})
	x := func(v float64) float64 { return v + shift }
	s.as("camshaft", func() {
		s.rect(classLitBody, x(36), y-24, 496, 48, 0)
		for i, l := range [][2]float64{{150, 66}, {206, 40}, {300, 40}, {356, 66}} {
			h := l[1]
			s.rect(classBody, x(l[0]), y-h, 44, h+42, 4)
			_ = i
		}
		s.rect(classLitBody, x(134), y-40, 10, 80, 0)
		s.rect(classLitBody, x(416), y-40, 10, 80, 0)
		s.line(classAxis, 14, y, 606, y)
	})
	s.indicator(x(534), y, 90, 10, 0.5)
	s.floatMove(580, y)
}

// rodSide shows both mouths, front at the top; the gauge lies across the mouth it reads.
func rodSide(s *scene) {
	side := s.side()
	for _, c := range []struct {
		name string
		x    float64
	}{{"left", 170}, {"right", 470}} {
		on := c.name == side
		s.as(c.name+" mouth", func() {
			s.rect(classOutline, c.x-140, 120, 280, 260, 24)
			s.circle(classOutline, c.x, 250, 108)
			s.line(classAxis, c.x, 112, c.x, 388)
			s.rect(pick(on, classLitBody, classBody), c.x-18, 190, 36, 120, 10)
			s.line(classThin, c.x-18, 226, c.x+18, 226)
			s.line(classThin, c.x-18, 274, c.x+18, 274)
		})
		s.text(pick(on, className, classNote), c.x, 436, c.name, Middle)
		if !on {
			continue
		}
		s.as("depth gauge", func() {
			s.rect(classBody, c.x-124, 206, 20, 88, 3)
			s.rect(classBody, c.x-104, 240, 84, 20, 0)
			s.circle(classTip, c.x-22, 250, 9)
		})
		s.line(classThin, c.x-104, 296, c.x-104, 350)
		s.line(classThin, c.x-22, 296, c.x-22, 350)
		s.dim(c.x-104, 338, c.x-22, 338, classNote, "", 0, 0, Middle)
	}
	s.line(classAxis, 24, 250, 616, 250)
	s.front(300, 50, "up")
	s.figured("", "side")
}

// rodBearing stands the rod on its cap; the journal is beside it, seen on its end.
func rodBearing(s *scene) {
	const cx, cy = 220, 262
	bolt := s.at("bolt")
	s.as("rod", func() {
		s.from(cx-34, 82).to(cx-44, cy-92).h(cx-122).v(cy-4).h(cx+122).v(cy-92).h(cx+44).to(cx+34, 82).draw(classBody)
		s.from(cx-122, cy+4).h(cx+122).v(cy+64).to(cx+84, cy+112).h(cx-84).to(cx-122, cy+64).close().draw(classBody)
		s.circle(pick(s.at("shell"), classLitBody, classBody), cx, cy, 76)
		s.circle(classThin, cx, cy, 84)
		s.line(classAxis, cx, 74, cx, cy+126)
		s.line(classAxis, cx-140, cy, cx+140, cy)
	})
	for _, b := range []struct {
		no string
		x  float64
	}{{"1", cx - 102}, {"2", cx + 102}} {
		on := bolt && s.at(b.no)
		s.as("bolt "+b.no, func() {
			s.rect(pick(on, classLitWash, classBody), b.x-17, cy-120, 34, 30, 3)
			s.line(classHidden, b.x-9, cy-90, b.x-9, cy+62)
			s.line(classHidden, b.x+9, cy-90, b.x+9, cy+62)
			s.rect(pick(on, classLitWash, classBody), b.x-20, cy+66, 40, 32, 3)
		})
		s.text(pick(on, className, classValue), b.x, cy-150, b.no, Middle)
		if on {
			s.stretchGauge(b.x, cy)
		}
	}
	s.as("journal", func() {
		s.circle(pick(s.at("journal"), classLitBody, classBody), 486, 240, 56)
		s.line(classAxis, 486, 164, 486, 316)
		s.line(classAxis, 410, 240, 562, 240)
		if s.at("journal") {
			s.placed(486, 240, s.num("journal_angle"), 1, func() { s.micrometer(-56, 56, 0, 76, 1) })
		}
	})
	s.text(pick(s.at("journal"), className, classNote), 486, 470, "journal", Middle)
	if s.at("shell") {
		s.boreGauge(cx, cy-76, cx, cy+76, -150, 60)
		s.text(className, cx, 470, "shell", Middle)
	}
	s.named(s.side())
	s.figured("", "reading")
}

// stretchGauge embraces the bolt's two ends; the indicator reads how much longer it has become.
func (s *scene) stretchGauge(x, cy float64) {
	s.as("stretch gauge", func() {
		out := -62.0
		if x > 220 {
			out = 62
		}
		s.from(x-8, cy+130).v(cy + 144).h(x + out).v(cy - 150).draw(classOutline)
		s.circle(classTip, x, cy+108, 8)
		s.circle(classTip, x, cy-128, 8)
	})
	if s.n.Move == "tighten" {
		s.turn("clockwise", x, cy+82, 44, 120, 240)
	}
}

// weighing: the end on the scale is lit; the rod lies level.
func weighing(s *scene) {
	const y = 236
	small := s.at("small")
	// The big end is at the left unless the small one is on the scale: the scale stays at the left.
	s.as("scale", func() {
		s.rect(classBody, 40, 330, 220, 24, 4)
		s.rect(classBody, 60, 354, 180, 80, 8)
		s.rect(classThinBody, 84, 376, 132, 38, 4)
	})
	s.as("bench", func() { s.line(classOutline, 20, 438, 620, 438) })
	if s.at("whole", "lot", "hung") {
		s.pile()
	} else {
		l, r := 62.0, 36.0
		if small {
			l, r = r, l
		}
		s.as("rod", func() {
			s.from(150+l-6, y-20).h(490 - r + 6).v(y + 20).h(150 + l - 6).close().draw(classBody)
			s.circle(pick(small || s.at("big"), classLitBody, classBody), 150, y, l)
			s.circle(classOutline, 150, y, l*0.66)
			s.circle(classBody, 490, y, r)
			s.circle(classOutline, 490, y, r*0.66)
			s.line(classAxis, 60, y, 590, y)
		})
		s.as("stand", func() {
			s.poly(classBody, 150-l*0.5, y+l*0.9, 150+l*0.5, y+l*0.9, 150+l*0.3, 330, 150-l*0.3, 330)
			s.line(classOutline, 490, y-r*0.66, 490, 96)
			s.line(classOutline, 440, 96, 600, 96)
			s.line(classOutline, 590, 96, 590, 438)
		})
		s.text(classNote, 330, 316, "level", Middle)
		s.line(classThin, 330, 288, 330, y+4)
		s.named(s.side(), map[bool]string{true: "small end"}[small]+map[bool]string{true: "big end"}[s.at("big")])
	}
	s.figured("", "mass")
}

// pile is what is weighed as one lot: the whole rod, or piston, pin, rings and clips.
func (s *scene) pile() {
	switch {
	case s.at("whole"):
		s.as("rod", func() {
			s.from(76, 312).v(294).h(236).v(312).close().draw(classBody)
			s.circle(classLitBody, 80, 280, 46)
			s.circle(classOutline, 80, 280, 30)
			s.circle(classLitBody, 238, 290, 34)
			s.circle(classOutline, 238, 290, 20)
		})
		s.named(s.side(), "whole rod")
	case s.at("lot"):
		s.as("piston with its pin, rings and clips", func() {
			s.rect(classLitBody, 84, 192, 132, 136, 8)
			for _, q := range []float64{208, 226, 244} {
				s.rect(classThin, 84, q, 132, 9, 0)
			}
			s.circle(classBody, 150, 286, 24)
			s.circle(classOutline, 150, 286, 14)
		})
		s.named(s.side(), "piston lot")
	default:
		s.as("bob weight", func() {
			s.rect(classLitBody, 96, 236, 108, 92, 10)
			s.line(classOutline, 150, 236, 150, 196)
			s.circle(classOutline, 150, 182, 14)
		})
		s.named("hung weight")
	}
}

// cases from above: the joint is upright in the middle, the crank in front, the camshaft behind it.
func cases(s *scene) {
	s.as("cases", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return 320 + m*v }
			s.from(x(6), 96).h(x(250)).v(420).h(x(6)).v(396).h(x(222)).v(330).h(x(196)).v(290).h(x(222)).v(260).h(x(196)).v(220).h(x(222)).v(120).h(x(6)).close().cut(map[float64]hatching{-1: rising, 1: falling}[m])
		}
	})
	if s.n.Move == "close" {
		s.arrow("right", 22, 150, 62, 150, 14)
		s.arrow("left", 618, 150, 578, 150, 14)
		s.say("the halves go together")
	}
	s.placed(86, 138, 0, 0.73, func() { s.shaft(0, 140, "") })
	s.as("camshaft", func() {
		s.rect(pick(s.at("camshaft"), classLitBody, classBody), 96, 350, 448, 30, 0)
		for _, x := range []float64{170, 220, 380, 430} {
			s.rect(classBody, x, 336, 34, 58, 5)
		}
		s.line(classAxis, 70, 365, 570, 365)
	})
	s.line(classAxis, 320, 70, 320, 444)
	s.text(pick(s.at("joint"), className, classNote), 336, 462, "joint", Start)
	s.front(320, 56, "up")
}

// bush shows what is read: bush, journal or pump.
func bush(s *scene) {
	no := map[bool]string{true: "1"}[s.at("1")] + map[bool]string{true: "2"}[s.at("2")] + map[bool]string{true: "3"}[s.at("3")]
	if s.at("pump") {
		s.pump()
		s.figured("", "size")
		return
	}
	s.as("bush in the case", func() {
		s.k().cut(classCut, append(s.k().box(40, 120, 250, 250, 24).segs, s.k().disc(165, 245, 96)...), rising)
		s.k().cut(pick(s.at("bush") && !s.at("journal"), classLitCut, classCut), append(s.k().disc(165, 245, 92), s.k().disc(165, 245, 66)...), hatching{45, 8})
		s.line(classAxis, 165, 112, 165, 378)
		s.line(classAxis, 30, 245, 300, 245)
	})
	s.as("camshaft", func() {
		s.rect(classBody, 340, 226, 280, 38, 0)
		s.rect(pick(s.at("journal"), classLitBody, classBody), 400, 182, 70, 126, 0)
		s.rect(classBody, 500, 206, 46, 78, 5)
		s.rect(classBody, 560, 190, 40, 94, 5)
		s.line(classAxis, 330, 245, 634, 245)
	})
	switch {
	case s.at("journal"):
		s.placed(435, 245, 90, 1, func() { s.micrometer(-63, 63, 0, 84, -1) })
		s.named("journal", no)
	case s.at("bush"):
		s.boreGauge(99, 245, 231, 245, 0, -180)
		s.named("bush", no)
	}
	s.text(classNote, 165, 420, "bush", Middle)
	s.text(classNote, 392, 474, "journal", Middle)
	s.figured("", "size")
}

func (s *scene) pump() {
	s.as("pump body", func() { s.from(80, 190).h(150).v(400).h(490).v(190).h(560).v(450).h(80).close().cut(rising) })
	s.as("gears", func() {
		s.from(160, 204).h(312).v(390).h(160).close().cut(falling)
		s.from(328, 204).h(480).v(390).h(328).close().cut(hatching{45, 9})
		s.line(classAxis, 236, 130, 236, 440)
		s.line(classAxis, 404, 130, 404, 440)
	})
	s.as("straight edge", func() { s.rect(classBody, 50, 152, 540, 36, 3) })
	s.feeler(300, 197, 90, 10, 60)
	s.named("pump")
}
