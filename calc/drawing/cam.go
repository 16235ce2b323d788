package drawing

import (
	"math"

	"thoud/calc/quantity"
)

func camRows() []Row {
	angle := Drive{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the crank after top dead centre, in the running direction"}
	running := Choice{Name: "running", Of: []string{"clockwise", "anticlockwise"}, Says: "the running direction, seen from the wheel"}
	return []Row{
		{
			Name: "tdc", draw: topDeadCentre,
			Says: "Cylinder cut along front and rear, the piston moving with the crank",
			Jobs: []string{"tdc", "tdc-proof", "stop-away"},
			Live: "drop",
			Drives: []Drive{
				angle,
				{Name: "drop", Kind: quantity.Length, Least: 0, Usual: 0, Most: 200, Says: "what the indicator reads; the piston is drawn from the angle"},
			},
			Choices: []Choice{
				running,
				{Name: "stop", Of: []string{"none", "plate"}, Says: "whether a stop plate lies across the joint face, for finding the top by eye"},
			},
			Moves:  []string{"forward", "back"},
			Lights: []string{"left.forward", "right.back"},
		},
		{
			Name: "follower-lift", draw: followerLift,
			Says: "Follower on its lobe, cut through its guide block; the indicator stands on top of it and reads the lift while the cam turns",
			Jobs: []string{"cam", "cam-proof"},
			Live: "lift",
			Drives: []Drive{
				{Name: "cam_angle", Kind: quantity.Angle, Least: -1e6, Usual: 34, Most: 1e6, Says: "of the camshaft after the lobe's nose, in the running direction; half the crank's"},
				{Name: "lift", Kind: quantity.Length, Least: -1, Usual: 5, Most: 20, Says: "what the indicator reads; the follower is drawn from the angle"},
			},
			Choices: []Choice{running},
			Moves:   []string{"turn"},
			Lights:  []string{"left.inlet", "right.exhaust"},
		},
		{
			Name: "wheel", draw: wheel,
			Says:   "Degree wheel on the end of the crank, the wire pointer at the top",
			Jobs:   []string{"tdc", "tdc-proof", "cam", "cam-proof"},
			Live:   "angle",
			Drives: []Drive{angle, {Name: "stop_at", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "where to stop turning; drawn on the wheel where it is known"}},
			Choices: []Choice{
				running,
				{Name: "read", Of: []string{"gauge", "eye"}, Says: "by an angle gauge, or by eye where the pointer stands: then no figure is known"},
				{Name: "stop", Of: []string{"none", "plug"}, Says: "whether a stop is in the plug hole"},
			},
			Moves:  []string{"forward", "back"},
			Lights: []string{"left", "right", "inlet.opening", "exhaust.closing"},
		},
		{
			Name: "chain", draw: chain,
			Says: "Timing chain from the timing side: the slack run is lifted and pressed at mid-run, the whole movement is read",
			Jobs: []string{"timing-dry", "timing-gear"},
			Live: "slack",
			Drives: []Drive{
				{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the driven wheel from its mark, in the running direction"},
				{Name: "slack", Kind: quantity.Length, Least: 0, Usual: 5, Most: 16, Says: "the whole movement at mid-run"},
			},
			Choices: []Choice{running},
			Moves:   []string{"lift", "press"},
			Lights:  []string{"0deg", "135deg"},
		},
		{
			Name: "gears", draw: gears,
			Says:   "Timing gears from the timing side: one is held, the other rocked, the indicator stands on a tooth and reads the backlash",
			Jobs:   []string{"timing-dry", "timing-gear"},
			Live:   "backlash",
			Drives: []Drive{{Name: "backlash", Kind: quantity.Length, Least: 0, Usual: 0.1, Most: 2, Says: "the whole movement at the tooth"}, {Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the driven gear from its mark"}},
			Moves:  []string{"rock"},
			Lights: []string{"0deg", "90deg"},
		},
	}
}

// stands is how far a piston stands below its top, for a crank throw of 1 and a rod of 4: the slider crank.
func stands(deg float64) float64 {
	sn, c := math.Sincos(deg * math.Pi / 180)
	return 1 + 4 - c - math.Sqrt(16-sn*sn)
}

// stopAngle is how far from the top the crank stands where the crown meets the stop, as it is drawn.
const stopAngle = 33.1

// topDeadCentre: throw 46, so the piston moves 92 units; the crank's centre is 300, 424.
func topDeadCentre(s *scene) {
	const cx, throw, face, cy = 240, 40, 168, 420
	deg := s.num("angle")
	plate := s.is("stop") == "plate"
	if plate && !s.known("angle") { // it rests against the stop: before the top, or past it where it was turned back
		deg = map[bool]float64{true: stopAngle, false: -stopAngle}[s.move() == "back"]
	}
	y := face + 8 + throw*stands(deg)
	if plate {
		y = max(y, face+16) // no nearer to the top than the stop lets it
	}
	sense := map[string]float64{"clockwise": 1, "anticlockwise": -1}[s.is("running")]
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(92), face).h(x(140)).v(196).h(x(170)).v(208).h(x(140)).v(236).h(x(170)).v(248).h(x(140)).v(276).h(x(170)).v(288).h(x(140)).v(312).h(x(92)).close().cut(rising)
		}
	})
	pin := y + 70
	p := polar(cx, cy, throw, sense*deg)
	s.as("crank", func() {
		s.circle(classThin, cx, cy, throw+12)
		s.circle(classBody, cx, cy, 14)
		s.line(classAxis, cx, 60, cx, 478)
		s.line(classAxis, cx-80, cy, cx+80, cy)
	})
	s.as("rod", func() {
		s.line(classBar, cx, pin, p.X, p.Y)
		s.line(classBar, cx, cy, p.X, p.Y)
		s.circle(classBody, p.X, p.Y, 12)
	})
	s.as("piston", func() {
		s.from(cx-88, y).h(cx + 88).v(y + 112).h(cx + 70).v(y + 58).h(cx - 70).v(y + 112).h(cx - 88).close().draw(classBody)
		s.line(classLit, cx-88, y, cx+88, y)
		for _, q := range []float64{14, 28} {
			s.line(classThin, cx-88, y+q, cx+88, y+q)
		}
		s.circle(classBody, cx, pin, 14)
	})
	if plate {
		s.as("stop", func() {
			s.rect(classLitWash, cx-150, face-30, 300, 26, 3)
			s.rect(classLitWash, cx-14, face-4, 28, 20, 0)
		})
		s.text(classValue, cx+170, face-6, "stop plate", Start)
		s.say("a stop plate lies across the joint face, the piston stands against it")
	} else {
		s.indicator(cx, y, 0, 30+y-face, 0.6)
		s.say("the indicator stands on the crown in line with the bore")
	}
	s.topWords(cx, cy, throw, sense)
}

func (s *scene) topWords(cx, cy, throw, sense float64) {
	s.named(s.side())
	s.figured("", "drop")
	if v := s.written("angle", ""); v != "" {
		v, where := fromTop(v, "after the top", "before the top")
		s.text(classFigure, 620, 300, v, End)
		s.text(classNote, 620, 336, where, End)
		s.say("crank at " + v + " " + where)
	}
	if move := s.move(); move != "" {
		d := sense * map[string]float64{"forward": 1, "back": -1}[move]
		s.turn(map[float64]string{1: "clockwise", -1: "anticlockwise"}[d], cx, cy, throw+34, d*50, d*128)
		s.text(classNote, 620, 440, map[string]string{"forward": "running direction", "back": "turn back"}[move], End)
	}
	s.text(classNote, 20, 440, "front", Start)
	s.text(classNote, 20, 474, "to the left", Start)
}

// wheel: the figure at the pointer is the angle. Figures grow against the running direction, so that turning on makes the reading grow.
func wheel(s *scene) {
	const cx, cy, r = 250, 276, 184
	sense := map[string]float64{"clockwise": 1, "anticlockwise": -1}[s.is("running")]
	known := s.is("read") == "gauge" && !s.at("opening", "closing")
	angle := s.num("angle")
	at := func(a, radius float64) XY { return polar(cx, cy, radius, sense*(angle-a)) }
	s.as("wheel", func() {
		s.circle(classBody, cx, cy, r)
		s.circle(classThin, cx, cy, r-48)
		t := &trace{k: s.k()}
		for a := 0.0; a < 360; a += 10 {
			l := 11.0
			if math.Mod(a, 30) == 0 {
				l = 19
			}
			if math.Mod(a, 90) == 0 {
				l = 28
			}
			p, q := at(a, r), at(a, r-l)
			t.move(p.X, p.Y).to(q.X, q.Y)
		}
		t.draw(classThin)
		if s.known("stop_at") {
			p, q := at(s.num("stop_at"), r+2), at(s.num("stop_at"), r-48)
			s.line(classLitLine, p.X, p.Y, q.X, q.Y)
		}
		s.circle(classBody, cx, cy, 30)
		s.hexagon(classOutline, cx, cy, 19, 12+sense*angle)
		s.line(classAxis, cx-r-16, cy, cx+r+16, cy)
		s.line(classAxis, cx, cy-r, cx, 476)
		for _, m := range []struct {
			a    float64
			text string
		}{{0, "T"}, {90, "90"}, {180, "180"}, {270, "270"}} {
			p := at(m.a, r-78)
			s.centred(pick(m.a == 0, classFigure, classValue), p.X, p.Y, m.text)
		}
	})
	s.as("pointer", func() { s.line(classLitLine, cx+64, 66, cx, 66, cx, cy-r+14) })
	switch {
	case !known:
		s.text(className, cx+78, 84, "read here", Start)
		s.say("read the wheel where the pointer stands")
	case s.written("angle", "") != "":
		s.text(classFigure, cx+78, 84, s.written("angle", ""), Start)
		s.say("it stands at " + s.written("angle", ""))
	}
	s.named(s.side(), s.valve())
	if s.at("opening", "closing") {
		s.text(classValue, 20, 102, map[bool]string{true: "opening", false: "closing"}[s.at("opening")], Start)
	}
	if move := s.move(); move != "" {
		d := sense * map[string]float64{"forward": 1, "back": -1}[move]
		s.turn(map[float64]string{1: "clockwise", -1: "anticlockwise"}[d], cx, cy, r-128, d*40, d*200)
		s.say("turn it " + map[float64]string{1: "clockwise", -1: "anticlockwise"}[d] + map[string]string{"forward": ", the running direction", "back": ", back"}[move])
	}
	if v := s.written("stop_at", ""); v != "" {
		s.text(classValue, 628, 470, "stop at "+v, End)
	}
	if s.is("stop") == "plug" {
		s.plugStop()
	}
}

// plugStop is the rod in the plug hole that the piston comes to rest on.
func (s *scene) plugStop() {
	s.as("stop", func() {
		s.from(476, 236).h(512).v(330).h(476).close().cut(rising)
		s.from(568, 236).h(604).v(330).h(568).close().cut(rising)
		s.from(524, 176).h(556).v(372).quad(540, 388, 524, 372).close().draw(classLitWash)
		s.rect(classLitWash, 508, 160, 64, 28, 4)
		s.from(470, 440).v(410).quad(540, 372, 610, 410).v(440).draw(classOutline)
		s.line(classAxis, 540, 150, 540, 440)
	})
	s.text(classValue, 540, 148, "stop", Middle)
	s.say("a stop is in the plug hole")
}

// followerLift: the lobe is turned by the cam angle after its nose; the follower's foot stands on its outline.
func followerLift(s *scene) {
	const cx, cy, rb, rn, lift = 320, 396, 56, 22, 54
	sense := map[string]float64{"clockwise": 1, "anticlockwise": -1}[s.is("running")]
	a := math.Mod(s.num("cam_angle"), 360)
	up := rise(rb, rn, lift, a)
	foot := cy - up
	top := foot - 136
	s.as("cam", func() {
		s.lobe(classBody, cx, cy, rb, rn, lift, sense*a)
		s.circle(classOutline, cx, cy, 19)
		s.circle(classOther, cx, cy, rb)
		s.line(classAxis, cx-150, cy, cx+150, cy)
	})
	s.as("guide block", func() {
		s.from(190, 218).h(288).v(284).h(190).close().cut(rising)
		s.from(450, 218).h(352).v(284).h(450).close().cut(rising)
	})
	s.as("follower", func() {
		s.from(292, top).h(348).v(foot - 22).h(390).v(foot).h(250).v(foot - 22).h(292).close().draw(classLitBody)
	})
	s.line(classAxis, cx, 60, cx, 476)
	s.indicator(cx, top, 0, 16, 0.56)
	base := top + up - rb
	s.line(classOther, 356, base, 500, base)
	s.line(classThin, 356, top, 500, top)
	s.dim(480, base, 480, top, classNote, "lift", 524, (base+top)/2+10, Start)
	s.figured("", "lift")
	s.named(s.side(), s.valve())
	if s.n.Move == "turn" {
		s.turn(map[float64]string{1: "clockwise", -1: "anticlockwise"}[sense], cx, cy, 116, sense*56, sense*98)
		s.text(classNote, 20, 474, "running direction", Start)
		s.say("turn it in the running direction, never back")
	}
	if v := s.written("cam_angle", ""); v != "" {
		s.text(classNote, 20, 100, "nose "+v, Start)
	}
}

// chain: the slack run bows by half the slack either way at mid-run, 12 units a millimetre, at least 16.
func chain(s *scene) {
	const x1, y1, r1, x2, y2, r2 = 120, 330, 54, 470, 300, 108
	l := math.Hypot(x2-x1, y2-y1)
	base := math.Atan2(y2-y1, x2-x1)
	off := math.Acos((r1 - r2) / l)
	tangent := func(cx, cy, r, side float64) XY {
		sn, c := math.Sincos(base + side*off)
		return XY{cx + r*c, cy + r*sn}
	}
	bearing := func(cx, cy float64, p XY) float64 { return math.Atan2(p.X-cx, cy-p.Y) * 180 / math.Pi }
	u1, u2, l1, l2 := tangent(x1, y1, r1, -1), tangent(x2, y2, r2, -1), tangent(x1, y1, r1, 1), tangent(x2, y2, r2, 1)
	for _, w := range []struct {
		name     string
		x, y, r  float64
		hub, arm float64
	}{{"pinion", x1, y1, r1, 15, 20}, {"driven wheel", x2, y2, r2, 21, 20}} {
		s.as(w.name, func() {
			s.circle(classOutline, w.x, w.y, w.r)
			s.circle(classBody, w.x, w.y, w.hub)
			s.line(classAxis, w.x-w.r-w.arm, w.y, w.x+w.r+w.arm, w.y)
			s.line(classAxis, w.x, w.y-w.r-w.arm, w.x, w.y+w.r+w.arm)
		})
	}
	h := max(16, 5.5*s.num("slack"))
	mx, my := (u1.X+u2.X)/2, (u1.Y+u2.Y)/2
	s.as("chain", func() {
		t := &trace{k: s.k()}
		t.arc(x1, y1, r1, bearing(x1, y1, u1), bearing(x1, y1, l1)-360*map[bool]float64{true: 1}[bearing(x1, y1, l1) > bearing(x1, y1, u1)]).to(l2.X, l2.Y).
			arc(x2, y2, r2, bearing(x2, y2, l2), bearing(x2, y2, u2)-360*map[bool]float64{true: 1}[bearing(x2, y2, u2) > bearing(x2, y2, l2)]).draw(classChain)
		s.from(u1.X, u1.Y).quad(mx, my+h, u2.X, u2.Y).draw(pick(s.n.Move == "press", classChainLit, classOther))
		s.from(u1.X, u1.Y).quad(mx, my-h, u2.X, u2.Y).draw(pick(s.n.Move == "press", classOther, classChainLit))
	})
	s.as("rule", func() {
		s.rect(classThinBody, mx-18, my-118, 36, 96-h/2, 2)
		t := &trace{k: s.k()}
		for i := range 6 {
			t.move(mx-18, my-110+float64(i)*14).h(mx - 2)
		}
		t.draw(classThin)
	})
	s.span(mx+44, my-h/2, mx+44, my+h/2)
	up, down := s.arrow, s.backArrow
	if s.n.Move == "press" {
		up, down = s.backArrow, s.arrow
	}
	if s.n.Move != "" {
		up("up", mx-54, my-30, mx-54, my-104, 15)
		down("down", mx-54, my+34, mx-54, my+108, 15)
		s.say(map[string]string{"lift": "lift the run", "press": "press the run"}[s.n.Move])
	}
	s.chainMark(x2, y2, r2)
}

func (s *scene) chainMark(x, y, r float64) {
	sense := map[string]float64{"clockwise": 1, "anticlockwise": -1}[s.is("running")]
	deg, text := s.angle("angle")
	a := sense * deg
	p, q := polar(x, y, 38, a), polar(x, y, r-12, a)
	s.line(classLitLine, p.X, p.Y, q.X, q.Y)
	s.figured("", "slack")
	if text != "" {
		s.text(className, 20, 54, text, Start)
		s.say("the driven wheel at " + text)
	}
	s.text(classNote, x, 466, "driven wheel", Middle)
	s.text(classNote, 120, 440, "pinion", Middle)
}

// gears: two wheels in mesh; the upper is rocked.
func gears(s *scene) {
	teeth := func(cx, cy, r, n, shift float64) {
		t := &trace{k: s.k()}
		for i := range int(n) {
			a := shift + 360/n*float64(i)
			w := 360 / n
			for j, q := range []XY{polar(cx, cy, r-12, a-w*0.30), polar(cx, cy, r+12, a-w*0.14), polar(cx, cy, r+12, a+w*0.14), polar(cx, cy, r-12, a+w*0.30)} {
				if i == 0 && j == 0 {
					t.move(q.X, q.Y)
				} else {
					t.to(q.X, q.Y)
				}
			}
		}
		t.close().draw(classBody)
		s.circle(classBody, cx, cy, 20)
		s.circle(classAxis, cx, cy, r)
		s.line(classAxis, cx-r-26, cy, cx+r+26, cy)
		s.line(classAxis, cx, cy-r-26, cx, cy+r+26)
	}
	s.as("pinion", func() { teeth(150, 300, 76, 14, 90) })
	s.as("driven gear", func() { teeth(378, 300, 152, 28, 90+180.0/28) })
	deg, text := s.angle("angle")
	p, q := polar(378, 300, 40, deg), polar(378, 300, 122, deg)
	s.line(classLitLine, p.X, p.Y, q.X, q.Y)
	s.indicator(542, 300, 90, 8, 0.36)
	s.text(classNote, 150, 440, "held", Middle)
	s.figured("", "backlash")
	s.text(className, 20, 54, text, Start)
	if s.n.Move == "rock" {
		s.turn("clockwise", 378, 300, 96, 20, 70)
		s.backTurn("anticlockwise", 378, 300, 96, 160, 110)
		s.say("rock it to and fro")
	}
}
