package drawing

import "math"

// valvePiston: lift and clearance are drawn 360 units an inch along the valve. The exhaust valve stands in front, at the
// left; the inlet behind, at the right.
func valvePiston(s *scene) {
	const k = 360 / inch
	m := 1.0
	if s.valve() == "exhaust" {
		m = -1
	}
	x := func(v float64) float64 { return 320 + m*v }
	sn, c := math.Sincos(s.num("valve_angle") * math.Pi / 180)
	liftMM, gapMM := s.liftAndGap(m, c)
	lift, gap := k*liftMM, k*gapMM
	// Along the valve downwards, and across it: from its seat's middle.
	at := func(across, along float64) (float64, float64) {
		return x(84 + across*c - along*sn), 168 + across*sn + along*c
	}
	p := func(across, along float64) []float64 {
		a, b := at(across, along)
		return []float64{a, b}
	}
	poly := func(pts ...[]float64) *trace {
		var all []float64
		for _, q := range pts {
			all = append(all, q...)
		}
		return s.run(all).close()
	}
	const w = 66
	s.as("head", func() {
		s.from(40, 76).h(600).v(204).h(512).quad(320, 60, 128, 204).h(40).close().cut(rising)
	})
	s.as("barrel", func() {
		s.from(40, 216).h(112).v(470).h(40).close().cut(falling)
		s.from(600, 216).h(528).v(470).h(600).close().cut(falling)
	})
	f1, f2 := p(-w-14, lift+gap), p(w+14, lift+gap)
	crown := min(f1[1], f2[1]) - 8
	up := func(q []float64) []float64 { return []float64{q[0] + m*(q[1]-crown)*sn/c, crown} }
	g1, g2 := up(f1), up(f2)
	if m < 0 {
		f1, f2, g1, g2 = f2, f1, g2, g1
	}
	s.as("piston", func() {
		s.k().cut(classCut, poly([]float64{118, crown}, g1, f1, f2, g2, []float64{522, crown}, []float64{522, 470}, []float64{118, 470}).segs, hatching{45, 12})
	})
	s.as("valve", func() {
		poly(p(-w, lift), p(w, lift), p(w, lift-12), p(13, lift-46), p(13, -110), p(-13, -110), p(-13, lift-46), p(-w, lift-12)).draw(classLitBody)
		a, b := p(0, -126), p(0, lift+gap+30)
		s.line(classAxis, a[0], a[1], b[0], b[1])
	})
	q1, q2 := p(-34, lift), p(-34, lift+gap)
	s.dim(q1[0], q1[1], q2[0], q2[1], classNote, "", 0, 0, Middle)
	s.line(classAxis, 320, 214, 320, 476)
	s.valvePistonWords(m)
	if s.move() == "push" {
		a, b := p(36, -100), p(36, -30)
		s.arrow("down", a[0], a[1], b[0], b[1], 18)
		s.say("push the valve down to the piston and let it go")
	}
}

// liftAndGap are the valve's lift and its distance from the pocket in mm, both along the valve. What is not known follows the
// crank: the piston goes down by the slider crank (a throw of 40 mm), the inlet opens and the exhaust (m < 0) shuts by 0.06 mm a
// degree, about the slope of a lobe near overlap; enough to see which way they go, and without a figure.
func (s *scene) liftAndGap(m, cosine float64) (lift, gap float64) {
	lift, gap = s.num("lift"), s.num("clearance")
	if !s.known("angle") {
		return lift, gap
	}
	deg := math.Remainder(s.num("angle"), 720)
	d := s.drive("lift")
	if !s.known("lift") {
		lift = min(d.Most, max(d.Least, d.Usual+m*0.06*deg))
	}
	if !s.known("clearance") {
		room := d.Usual + s.drive("clearance").Usual // from the valve's seat to the pocket at the top
		gap = min(s.drive("clearance").Most, max(0, room+40*stands(deg)*cosine-lift))
	}
	return lift, gap
}

func (s *scene) valvePistonWords(m float64) {
	s.named(s.side(), s.valve())
	if v := s.written("clearance", ""); v != "" {
		s.text(classFigure, 320, 440, v, Middle)
		s.say("clearance " + v)
	}
	s.figured("", "lift")
	if v := s.written("angle", ""); v != "" {
		s.text(classValue, 320-m*110, 340, v, Middle)
		s.say("crank at " + v)
	}
}

// valveValve: both valves lean towards each other; the gap is drawn 420 units an inch, at least 8.
func valveValve(s *scene) {
	g := max(8, 380/inch*s.num("clearance"))
	s.as("head", func() { s.from(40, 130).h(600).v(250).h(540).quad(320, 90, 100, 250).h(40).close().cut(rising) })
	for _, v := range []struct {
		name string
		m    float64
	}{{"exhaust", -1}, {"inlet", 1}} {
		s.as(v.name+" valve", func() {
			s.placed(320+v.m*(g/2+66), 330, v.m*28, 1, func() {
				d := v.m
				s.poly(classLitBody, d*-76, 12, d*76, 12, d*76, 0, 14, -40, 14, -250, -14, -250, -14, -40, d*-76, 0)
				s.line(classAxis, 0, -270, 0, 40)
			})
		})
		s.text(classNote, 320+v.m*190, 440, v.name, Middle)
	}
	s.text(classNote, 24, 474, "front", Start)
	s.text(classNote, 616, 474, "rear", End)
	s.named(s.side())
	s.figured("", "clearance")
	s.line(classThin, 320, 310, 320, 380)
	s.text(classFigure, 320, 424, "gap", Middle)
}

// rocker: its shaft is at 300, 214; the angle of the valve arm is drawn twice as steep.
func rocker(s *scene) {
	const px, py, av, ap = 300, 226, 180, 150
	a := 2 * s.num("angle") * math.Pi / 180
	tx, ty := px+av*math.Cos(a), py-av*math.Sin(a)
	cx, cy := px-ap*math.Cos(a), py+ap*math.Sin(a)
	s.as("pedestal", func() {
		s.from(px-62, 470).v(320).to(px-34, py+30).h(px+34).to(px+62, 320).v(470).close().cut(rising)
	})
	s.as("valve", func() {
		s.rect(classBody, tx-15, ty+16, 30, 470-ty-16, 0)
		s.line(classAxis, tx, ty-40, tx, 476)
	})
	s.as("pushrod", func() {
		s.poly(classBody, cx-11, cy+44, cx+11, cy+44, cx-12, 470, cx-34, 470)
		s.circle(classBody, cx, cy+36, 14)
	})
	s.as("rocker", func() {
		s.placed(px, py, -2*s.num("angle"), 1, func() {
			s.from(-ap-26, 6).quad(-ap, -26, -ap+36, -20).to(-34, -42).quad(0, -58, 34, -42).to(av-20, -24).quad(av+20, -22, av+18, 4).quad(av, 24, av-18, 8).to(34, 38).quad(0, 54, -34, 38).to(-ap+14, 30).h(-ap - 14).close().draw(classLitBody)
		})
		s.circle(classBody, px, py, 22)
		s.line(classAxis, px-250, py, px+280, py)
		s.line(classAxis, px, py-90, px, py+60)
	})
	s.as("angle gauge", func() {
		s.placed(px, py, -2*s.num("angle"), 1, func() {
			s.rect(classBody, 60, -84, 92, 50, 6)
			s.rect(classThin, 74, -74, 64, 22, 3)
		})
	})
	s.as("line to the tip", func() { s.line(classLitLine, px, py, tx, ty) })
	s.named(s.side(), s.valve())
	s.figured("", "angle")
	d := map[string]float64{"lower": 1, "raise": -1}[s.n.Move]
	if d != 0 {
		s.arrow(map[float64]string{1: "down", -1: "up"}[d], px, 390-50*d, px, 390+50*d, 22)
		s.text(className, 624, 464, s.n.Move, End)
		s.say(s.n.Move + " the shaft")
	}
	if p := s.is("pushrod"); p != "same" {
		s.text(classNote, 14, 470, p, Start)
		s.say("the pushrod becomes " + p)
	}
}

// lash: the gap is drawn 4,000 units an inch, at least 12; the adjuster is in the rocker's end.
func lash(s *scene) {
	const x = 400
	g := min(56, max(12, 3000/inch*s.num("lash")))
	const bottom = 268.0
	tip := bottom + g
	s.as("valve", func() {
		s.rect(classLitBody, x-34, tip, 68, 470-tip, 5)
		s.line(classAxis, x, 70, x, 478)
	})
	s.as("rocker", func() {
		s.from(40, 236).quad(120, 170, 300, 176).h(448).quad(470, 178, 470, 200).v(216).quad(470, 232, 440, 236).h(300).quad(160, 240, 92, 306).quad(40, 300, 40, 236).close().draw(classBody)
		s.circle(classBody, 96, 250, 28)
	})
	s.as("adjuster", func() {
		s.rect(classBody, x-20, 104, 40, bottom-104-14, 0)
		for y := 114.0; y < 250; y += 11 {
			s.line(classThin, x-20, y, x+20, y-6)
		}
		s.from(x-22, bottom-14).h(x+22).quad(x+20, bottom, x, bottom).quad(x-20, bottom, x-22, bottom-14).close().draw(classBody)
		s.rect(classBody, x-44, 144, 88, 32, 4)
	})
	s.feeler(x+4, bottom+g/2, 90, max(6, g-6), 80)
	s.line(classThin, x-40, bottom, 250, bottom)
	s.line(classThin, x-40, tip, 250, tip)
	s.dim(266, bottom, 266, tip, classNote, "", 0, 0, Middle)
	s.figured("", "lash")
	s.named(s.side(), s.valve())
	switch s.n.Move {
	case "tighten":
		s.turn("clockwise", x, 140, 60, -46, 40)
		s.say("turn the adjuster in, clockwise from above")
	case "slacken":
		s.turn("anticlockwise", x, 140, 60, 46, -40)
		s.say("turn the adjuster out, anticlockwise from above")
	}
	s.text(classNote, 20, 470, "engine cold", Start)
}
