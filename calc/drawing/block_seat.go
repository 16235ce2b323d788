package drawing

import "math"

// blockContact: the block's end is y = 240, the lobe's nose stands 700 units an inch of clearance below it.
func blockContact(s *scene) {
	const end, rb, rn, lift = 240, 62, 24, 36
	gap := 700 / inch * s.num("clearance")
	cy := end + gap + rb + lift
	s.as("barrel flange", func() {
		s.from(60, 190).h(190).v(78).h(136).v(124).h(60).close().cut(rising)
		s.from(580, 190).h(450).v(78).h(504).v(124).h(580).close().cut(rising)
	})
	s.as("block", func() {
		s.from(190, 78).h(286).v(end).h(190).close().cutLit(falling)
		s.from(354, 78).h(450).v(end).h(354).close().cutLit(falling)
		s.line(classLit, 286, end, 354, end)
		s.line(classLit, 286, 78, 354, 78)
	})
	s.as("cam", func() {
		s.line(classAxis, 200, cy, 440, cy)
		s.lobe(classBody, 320, cy, rb, rn, lift, s.num("angle"))
		s.circle(classOutline, 320, cy, 22)
		if a := math.Mod(s.num("angle"), 360); a > 3 || a < -3 { // the nose's way, so that the clearance can be seen
			t := &trace{k: s.k()}
			t.arc(320, cy, rb+lift, -40, 40).draw(classOther)
		}
	})
	s.line(classAxis, 320, 70, 320, 476)
	s.line(classThin, 456, end, 566, end)
	s.line(classThin, 340, end+gap, 566, end+gap)
	s.dim(540, end, 540, end+gap, classFigure, "c", 590, end+gap/2+14, Middle)
	s.figured("c", "clearance")
	s.named(s.side())
	s.text(classNote, 24, 230, "joint", Start)
	s.line(classThin, 60, 200, 184, 200)
	switch s.n.Move {
	case "turn":
		s.turn("clockwise", 320, cy, 94, 50, 116)
		s.text(classNote, 20, 430, "turn by hand,", Start)
		s.text(classNote, 20, 466, "one full turn", Start)
		s.say("turn the cam by hand, one full turn")
	case "away":
		s.arrow("up", 402, 212, 402, 104, 22)
		s.say("the block is to go up, away from the cam")
	case "towards":
		s.arrow("down", 402, 104, 402, 212, 22)
		s.say("the block is to go down, towards the cam")
	}
}

// blockCorner: the drawn corner of a slanted end stands 1200 units an inch above the joint face y = 300, at least 10.
func blockCorner(s *scene) {
	const face = 300
	y := face - max(10, 1200/inch*s.num("proud"))
	s.as("barrel flange", func() {
		s.from(60, face).h(210).v(440).h(60).close().cut(rising)
		s.from(430, face).h(580).v(440).h(430).close().cut(rising)
	})
	s.as("block", func() {
		s.from(210, y).to(430, y-96).v(440).h(362).v(y-66).to(278, y-30).v(440).h(210).close().cutLit(falling)
		s.line(classLit, 278, y-30, 362, y-66)
		s.line(classLit, 278, 440, 362, 440)
	})
	s.line(classAxis, 320, 120, 320, 470)
	s.indicator(213, y, 0, 26, 0.62)
	s.line(classThin, 40, y, 204, y)
	s.line(classThin, 30, face, 60, face)
	s.dim(48, y, 48, face, classNote, "", 0, 0, Middle)
	s.figured("", "proud")
	s.named(s.side())
	s.text(classNote, 12, 96, "drawn corner", Start)
	s.text(classNote, 320, 474, "turned over, cam side up", Middle)
	if s.n.Move == "grind" {
		s.arrow("down", 500, 90, 446, 176, 20)
		s.text(classValue, 620, 120, "grind", End)
		s.say("grind the cam side")
	}
}

// coneSeat: all lengths in one scale, 860 units an inch from the block's face y = 196. Drill points of 118 degrees.
func coneSeat(s *scene) {
	const face, cx, k = 196, 300, 800 / inch
	al, be := 59*math.Pi/180, s.num("cone_angle")/2*math.Pi/180
	d, h, dp, hp, screw := s.num("seat_drill"), s.num("seat_depth"), s.num("pilot_drill"), s.num("pilot_depth"), s.num("screw_diameter")
	dp = min(dp, d-0.5)
	// Along the axis from the face: where the seat drill's cone meets its wall and the pilot's rim, where the pilot's cone begins.
	wall := max(0, h-d/2/math.Tan(al))
	rim := max(wall, h-dp/2/math.Tan(al))
	hp = max(hp, rim+dp/2/math.Tan(al))
	pilot := hp - dp/2/math.Tan(al)
	apex := rim + dp/2/math.Tan(be) // the point bears on the rim
	if s.is("bears") == "bottom" {
		apex = hp
	}
	shoulder := apex - screw/2/math.Tan(be)
	y := func(v float64) float64 { return face + k*v }
	rd, rp, rs := d/2*k, dp/2*k, screw/2*k
	s.as("block", func() {
		s.from(60, face).h(cx-rd).v(y(wall)).to(cx-rp, y(rim)).v(y(pilot)).to(cx, y(hp)).to(cx+rp, y(pilot)).v(y(rim)).to(cx+rd, y(wall)).v(face).h(540).v(462).h(60).close().cut(falling)
	})
	s.as("barrel", func() {
		s.from(60, face-4).h(cx - rs).v(84).h(60).close().cut(rising)
		s.from(540, face-4).h(cx + rs).v(84).h(540).close().cut(rising)
	})
	s.as("screw", func() {
		s.poly(classLitBody, cx-rs, 70, cx+rs, 70, cx+rs, y(shoulder), cx, y(apex), cx-rs, y(shoulder))
		s.line(classThin, cx-rs+12, 74, cx-rs+12, y(shoulder))
		s.line(classThin, cx+rs-12, 74, cx+rs-12, y(shoulder))
		s.line(classOutline, cx-rs, y(shoulder), cx+rs, y(shoulder))
	})
	s.line(classAxis, cx, 60, cx, 474)
	if s.is("bears") == "bottom" {
		s.circle(classTip, cx, y(apex), 11)
	} else {
		s.circle(classTip, cx-rp, y(rim), 10)
		s.circle(classTip, cx+rp, y(rim), 10)
	}
	s.line(classThin, 20, face, 58, face)
	s.line(classOther, 30, y(h), cx-rp+8, y(h))
	s.dim(44, face, 44, y(h), pick(s.at("seat"), className, classValue), s.written("seat_depth", ""), 66, y(h)+48, Start)
	s.line(classOther, cx+10, y(hp), 570, y(hp))
	s.line(classThin, 542, face, 580, face)
	s.dim(560, face, 560, y(hp), pick(s.at("pilot"), className, classValue), s.written("pilot_depth", ""), 622, y(hp)+48, End)
	s.coneWords()
}

func (s *scene) coneWords() {
	s.named(s.side())
	if s.is("bears") == "bottom" {
		s.text(className, 620, 54, "bottoms", End)
		s.say("the point stands on the pilot's bottom and is not held by the rim")
		return
	}
	s.text(classValue, 620, 52, "air under the tip", End)
	if s.n.Move == "deeper" {
		s.arrow("down", 300, 92, 300, 176, 20)
		s.say("drill deeper")
	}
}

// blockLock shows flange, block, screw and tab; the cam side is up.
func blockLock(s *scene) {
	const face = 190
	s.as("barrel flange", func() {
		s.from(150, face).h(20).v(264).h(150).close().cut(rising)
		s.from(150, 300).h(20).v(400).h(150).close().cut(rising)
		s.from(390, face).h(600).v(400).h(390).close().cut(rising)
	})
	s.as("block", func() {
		s.from(150, 130).h(236).v(420).h(150).v(306).to(180, 282).to(150, 258).close().cutLit(falling)
		s.from(304, 130).h(390).v(420).h(304).close().cutLit(falling)
		s.line(classLit, 236, 130, 304, 130)
		s.line(classLit, 236, 420, 304, 420)
	})
	s.line(classAxis, 270, 112, 270, 440)
	s.as("set screw", func() {
		s.poly(classLitWash, 34, 264, 152, 264, 176, 282, 152, 300, 34, 300)
		s.line(classThin, 40, 271, 150, 271)
		s.line(classThin, 40, 293, 150, 293)
		s.line(classAxis, 10, 282, 230, 282)
		s.circle(classTip, 166, 274, 8)
		s.circle(classTip, 166, 290, 8)
	})
	s.as("tab", func() {
		s.from(330, 118).h(420).v(178).h(572).v(190).h(408).v(130).h(330).close().cut(hatching{-45, 6})
		for _, x := range []float64{470, 536} {
			s.rect(classBody, x-16, 152, 32, 26, 3)
			s.line(classHidden, x-9, 190, x-9, 260)
			s.line(classHidden, x+9, 190, x+9, 260)
		}
	})
	s.named(s.side())
	s.text(classNote, 620, 104, "tab, two screws", End)
	s.text(classNote, 30, 238, "set screw", Start)
	s.text(classNote, 320, 466, "turned over, cam side up", Middle)
	if s.is("compound") == "on" {
		s.text(classValue, 620, 54, "compound on clean threads", End)
		s.say("compound on clean threads")
	}
	if s.n.Move == "screw in" {
		s.arrow("right", 40, 340, 140, 340, 18)
		s.say("the set screw goes in")
	}
}

// screwHole: the flange lies on its joint face, seen on its edge; its thickness is drawn 14 units a millimetre.
func screwHole(s *scene) {
	const base, k = 400, 14
	th, up := s.num("thickness"), min(s.num("height"), s.num("thickness")-0.5)
	top, mark := base-k*th, base-k*up
	s.as("flange", func() {
		s.rect(classBody, 60, top, 380, base-top, 0)
		s.line(classOutline, 110, top, 110, 92)
		s.line(classOutline, 390, top, 390, 92)
		for y := top - 40; y > 110; y -= 34 {
			s.line(classThin, 84, y, 416, y)
			s.line(classThin, 84, y-10, 416, y-10)
		}
	})
	s.as("surface", func() { s.line(classOutline, 20, base+3, 600, base+3) })
	s.as("scribed line", func() { s.line(classLitLine, 250, top+4, 250, base-4) })
	s.as("square", func() { s.from(256, base).v(130).h(284).v(base - 26).h(420).v(base).close().draw(classThinBody) })
	s.as("punch mark", func() {
		s.circle(classTip, 250, mark, 12)
		if s.n.Move == "punch" {
			s.line(classThin, 190, mark, 236, mark)
		}
	})
	s.line(classThin, 60, mark, 36, mark)
	s.line(classThin, 36, base, 20, base)
	s.line(classThin, 244, mark, 36, mark)
	s.dim(46, mark, 46, base, classNote, "", 0, 0, Middle)
	s.line(classThin, 446, top, 520, top)
	s.dim(500, top, 500, base, classNote, "", 0, 0, Middle)
	s.text(pick(s.at("thickness"), className, classValue), 620, (top+base)/2-34, s.written("thickness", ""), End)
	s.named(s.side())
	if v := s.written("height", ""); v != "" {
		s.text(classFigure, 620, 54, "punch "+v+" up", End)
		s.say("punch " + v + " up from the joint face")
	}
	s.text(classNote, 320, 456, "standing on the joint face", Middle)
}

// blockFit draws the flange's seat at the left and the block beside it.
func blockFit(s *scene) {
	plain := !s.at("seat", "block", "hole", "follower")
	s.as("seat in the flange", func() {
		s.k().cut(classCut, append(s.k().box(30, 150, 250, 250, 30).segs, s.k().disc(155, 275, 88)...), rising)
		if s.at("seat") || plain {
			s.circle(classLit, 155, 275, 88)
		}
		s.line(classAxis, 155, 164, 155, 386)
		s.line(classAxis, 44, 275, 266, 275)
	})
	const bx = 440
	s.as("block", func() {
		s.k().cut(pick(s.at("block"), classLitCut, classCut), append(append(s.k().disc(bx, 275, 88), s.k().disc(bx-38, 275, 30)...), s.k().disc(bx+38, 275, 30)...), falling)
		for _, v := range []struct {
			name string
			x    float64
		}{{"inlet", bx - 38}, {"exhaust", bx + 38}} {
			if s.at("hole") && s.valve() == v.name {
				s.circle(classLit, v.x, 275, 30)
			}
		}
	})
	s.fitGauge(bx)
	s.figured("", "size")
	what := map[bool]string{true: "seat"}[s.at("seat")] + map[bool]string{true: "block"}[s.at("block")] + map[bool]string{true: "hole"}[s.at("hole")] + map[bool]string{true: "follower"}[s.at("follower")]
	s.named(s.side(), s.valve())
	s.text(classValue, 155, 456, "seat", Middle)
	s.text(classValue, 440, 456, "block, followers", Middle)
	s.say("measured now: " + map[bool]string{true: "nothing named", false: what}[what == ""])
}

func (s *scene) fitGauge(bx float64) {
	switch {
	case s.at("seat"):
		s.boreGauge(67, 275, 243, 275, 0, -185)
	case s.at("block"):
		s.micrometer(bx-88, bx+88, 275, 96, 1)
	case s.at("hole", "follower"):
		x := bx - 38.0
		if s.valve() == "exhaust" {
			x = bx + 38
		}
		if s.at("hole") {
			s.boreGauge(x-30, 275, x+30, 275, 0, -185)
			return
		}
		s.as("follower", func() {
			s.circle(classLitBody, x, 275, 28)
		})
		s.micrometer(x-28, x+28, 275, 130, -1)
	}
}
