package drawing

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

func engineRows() []Row {
	return []Row{
		{
			Name: "engine-top", draw: engineTop,
			Says:    "Engine from above, front at the top, left and right as seen from the rider's seat; flags show the temporary pieces that are in it",
			Jobs:    []string{"ready", "count", "closing", "cooled", "keepers-out"},
			Twin:    TwinCylinders,
			Choices: []Choice{{Name: "head", Of: []string{"off", "on"}, Says: "whether the head is on"}},
			Lights:  []string{"left", "right", "left.inlet", "right.exhaust"},
			Pieces:  true,
		},
		{
			Name: "ignition", draw: ignition,
			Says: "Cylinder and head, cut, the indicator through the plug hole down to the crown; the wheel's angle where the spark falls",
			Jobs: []string{"ignition"},
			Live: "depth",
			Drives: []Drive{
				{Name: "depth", Kind: quantity.Length, Least: 0, Usual: 8, Most: 30, Says: "of the piston below its top where the spark falls"},
				{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the crank there, before the top"},
				{Name: "slant", Kind: quantity.Angle, Least: 0, Usual: 0, Most: 20, Says: "of the plug hole against the bore"},
			},
			Moves:  []string{"earlier", "later"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "leak-down", draw: leakDown,
			Says: "Cylinder at its firing top, both valves shut, the crank held: air goes in through the plug hole, the loss is read",
			Jobs: []string{"leak-down", "leak-again"},
			Live: "loss",
			Drives: []Drive{
				{Name: "loss", Kind: quantity.Number, Least: 0, Usual: 5, Most: 100, Says: "of the air, per cent"},
			},
			Moves:  []string{"listen"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "oil", draw: oil,
			Says:   "Oil tank in section, the feed down to the engine and the return back into it: oil must show at the return",
			Jobs:   []string{"prime", "first-start"},
			Live:   "seconds",
			Drives: []Drive{{Name: "seconds", Kind: quantity.Number, Least: 0, Usual: 0, Most: 1e5, Says: "until oil showed at the return"}},
			Moves:  []string{"feed"},
			Lights: []string{"return"},
		},
		{
			Name: "gauge-gone", draw: gaugeGone,
			Says:    "A gauge and its plug",
			Choices: []Choice{{Name: "state", Of: []string{"out", "silent"}, Says: "its plug is out, or it is in and the gauge says nothing"}, {Name: "gauge", Of: []string{"indicator", "caliper", "bore gauge"}, Says: "which"}},
			Moves:   []string{"plug in"},
		},
	}
}

// engineTop: the cylinders are at 200 and 440, the camshaft side behind them.
func engineTop(s *scene) {
	s.as("cases", func() {
		s.from(66, 124).quad(66, 92, 100, 92).h(540).quad(574, 92, 574, 124).v(370).quad(574, 436, 504, 436).h(136).quad(66, 436, 66, 370).close().draw(classOutline)
		s.from(574, 190).h(622).v(330).h(574).draw(classOutline)
		s.rect(classThin, 36, 210, 30, 90, 0)
	})
	for _, c := range []struct {
		name string
		x    float64
	}{{"left", 200}, {"right", 440}} {
		on := s.side() == c.name
		s.as(c.name+" cylinder", func() {
			s.rect(classBody, c.x-100, 112, 200, 200, 24)
			for _, dx := range []float64{-80, 80} {
				for _, dy := range []float64{-80, 80} {
					s.hexagon(classThin, c.x+dx, 212+dy, 14, 0)
				}
			}
			s.circle(pick(on && s.valve() == "", classLit, classOutline), c.x, 212, 78)
			if s.is("head") == "on" || s.valve() != "" {
				s.circle(pick(on && s.valve() == "exhaust", classLitWash, classThin), c.x, 178, 28)
				s.circle(pick(on && s.valve() == "inlet", classLitWash, classThin), c.x, 248, 30)
			}
			s.line(classAxis, c.x, 84, c.x, 330)
		})
		s.text(pick(on, className, classNote), c.x, 424, c.name, Middle)
	}
	s.line(classAxis, 26, 212, 632, 212)
	s.front(290, 58, "up")
	s.flags()
}

// flags puts one flag for each piece near where it is: its number on it. Several in one place stand side by side.
func (s *scene) flags() {
	taken := map[XY]int{}
	for _, p := range s.n.Pieces {
		where := strings.ToLower(p.Where)
		at := XY{320, 366} // the joint, behind
		switch {
		case strings.Contains(where, "left"):
			at = XY{200, 212}
		case strings.Contains(where, "right"):
			at = XY{440, 212}
		}
		switch {
		case strings.Contains(where, "exhaust"):
			at.Y -= 60
		case strings.Contains(where, "inlet"):
			at.Y += 60
		case strings.Contains(where, "follower"), strings.Contains(where, "block"):
			at.Y = 346
		}
		n := taken[at]
		taken[at]++
		x := at.X + 62*float64((n+1)/2)*float64(1-2*(n%2))
		s.as("piece "+strconv.Itoa(p.No), func() {
			s.piece(strings.ToLower(p.What), at, n)
			s.circle(classFlag, x, at.Y, 31)
			s.centred(classOnFlag, x, at.Y, strconv.Itoa(p.No))
		})
		s.say(strconv.Itoa(p.No) + ": " + p.What + ", " + p.Where)
	}
}

// piece draws what is in the place, the first of its place only: a board across the joint, cloth in a mouth, a stop.
func (s *scene) piece(what string, at XY, n int) {
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(what, w) })
	}
	switch {
	case n > 0:
	case has("board"):
		s.rect(classLitWash, 110, 350, 420, 32, 5)
	case has("cloth", "rag", "cover") && at.Y == 212:
		x, y := at.X, at.Y
		s.from(x-66, y-10).quad(x-60, y-62, x-14, y-56).quad(x+30, y-74, x+52, y-34).quad(x+80, y+6, x+46, y+38).quad(x+14, y+76, x-22, y+58).quad(x-76, y+44, x-66, y-10).close().draw(classWash)
	case has("stop"):
		s.circle(classLitWash, at.X, at.Y, 46)
	}
}

// closedCylinder draws a cylinder with its head, cut, and the piston with its crown at y; the plug hole is left free.
func (s *scene) closedCylinder(cx, crown, slant float64) {
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(110), 236).h(x(150)).v(270).h(x(182)).v(282).h(x(150)).v(320).h(x(182)).v(332).h(x(150)).v(370).h(x(182)).v(382).h(x(150)).v(470).h(x(110)).close().cut(rising)
		}
	})
	s.as("piston", func() {
		s.rect(classBody, cx-106, crown, 212, 470-crown, 0)
		for _, q := range []float64{16, 32} {
			s.line(classThin, cx-106, crown+q, cx+106, crown+q)
		}
		s.circle(classOutline, cx, min(440, crown+96), 26)
	})
	s.as("head", func() {
		lean := math.Tan(slant * math.Pi / 180)
		top, roof := cx+lean*(crown-130), cx+lean*(crown-186)
		s.from(top-24, 130).h(cx-150).v(232).h(cx-110).quad(cx-60, 190, roof-24, 186).close().cut(falling)
		s.from(top+24, 130).h(cx+150).v(232).h(cx+110).quad(cx+60, 190, roof+24, 186).close().cut(falling)
	})
}

func ignition(s *scene) {
	const cx = 220
	crown := 240 + 3*min(30, s.num("depth"))
	s.closedCylinder(cx, crown, s.num("slant"))
	s.line(classOther, cx-106, 236, cx+106, 236)
	lean := s.num("slant")
	s.placed(cx, crown, lean, 1, func() {
		s.as("plug hole holder", func() { s.rect(classBody, -20, 118-crown, 40, 46, 3) })
		s.indicator(0, 0, 0, (crown-116)/0.6, 0.6)
	})
	s.line(classThin, cx+110, crown, 430, crown)
	s.line(classThin, cx+110, 236, 430, 236)
	s.dim(416, 236, 416, crown, classNote, "", 0, 0, Middle)
	s.named(s.side())
	s.figured("", "depth")
	if v := s.written("angle", ""); v != "" {
		v, where := fromTop(v, "before the top", "after the top")
		s.text(classFigure, 620, 320, v, End)
		s.text(classNote, 620, 356, where, End)
		s.say(v + " " + where)
	}
	s.as("spark", func() { s.from(540, 110).to(508, 160).h(536).to(512, 214).draw(classLitLine) })
	if s.n.Move != "" {
		s.text(className, 620, 440, s.n.Move, End)
		s.say("the spark is to fall " + s.n.Move)
	}
}

func leakDown(s *scene) {
	const cx = 240
	s.closedCylinder(cx, 240, 0)
	s.as("air line", func() {
		s.rect(classLitWash, cx-20, 104, 40, 72, 3)
		s.from(cx, 104).quad(cx, 66, cx+70, 66).h(440).draw(classCable)
		s.rect(classBody, 440, 76, 170, 120, 10)
		s.rect(classThin, 462, 96, 126, 40, 3)
		s.line(classOutline, 610, 136, 638, 136)
	})
	if v := s.written("loss", ""); v != "" {
		s.text(classFigure, 628, 262, v, End)
		s.say("loss " + v)
	}
	s.named(s.side())
	s.arrow("down", cx, 182, cx, 232, 12)
	if s.n.Move == "listen" {
		for _, q := range []struct {
			x1, y1, x2, y2 float64
			says           string
		}{{cx - 156, 200, cx - 216, 200, "left"}, {cx + 156, 200, cx + 196, 200, "right"}, {cx + 190, 420, cx + 190, 470, "down"}} {
			s.backArrow(q.says, q.x1, q.y1, q.x2, q.y2, 14)
		}
		s.text(classNote, 628, 318, "listen: exhaust,", End)
		s.text(classNote, 628, 354, "inlet, breather", End)
		s.say("listen at exhaust, inlet and breather")
	}
	s.text(classNote, 628, 474, "crank held", End)
}

func oil(s *scene) {
	s.as("tank", func() {
		s.from(60, 120).v(380).quad(60, 410, 90, 410).h(270).quad(300, 410, 300, 380).v(120).close().draw(classBody)
		s.rect(classBody, 130, 84, 100, 36, 6)
		s.from(64, 230).h(296).v(378).quad(296, 406, 268, 406).h(92).quad(64, 406, 64, 378).close().draw(classWash)
	})
	s.as("engine", func() {
		s.from(430, 300).quad(430, 260, 470, 260).h(580).quad(620, 260, 620, 300).v(400).quad(620, 450, 570, 450).h(480).quad(430, 450, 430, 400).close().draw(classBody)
		s.circle(classOutline, 525, 356, 52)
	})
	s.as("feed", func() {
		s.from(180, 410).v(440).quad(180, 462, 202, 462).h(400).quad(426, 462, 430, 420).draw(classCable)
	})
	s.as("return", func() { s.from(500, 262).v(190).quad(500, 160, 470, 160).h(260).v(186).draw(classCable) })
	s.circle(classTip, 260, 204, 11)
	if s.n.Move == "feed" {
		s.arrow("right", 236, 436, 336, 436, 12)
		s.arrow("left", 450, 132, 340, 132, 12)
	}
	s.text(pick(s.at("return"), className, classValue), 180, 346, "oil", Middle)
	s.text(classNote, 610, 220, "return", End)
	s.text(classNote, 330, 410, "feed", Start)
	s.figured("", "seconds")
	s.say("oil must show at the return")
}

func gaugeGone(s *scene) {
	s.as(s.is("gauge"), func() {
		switch s.is("gauge") {
		case "caliper":
			s.rect(classBody, 20, 190, 380, 34, 3)
			s.poly(classBody, 40, 224, 76, 224, 76, 330, 52, 330, 40, 250)
			s.poly(classBody, 120, 224, 84, 224, 84, 330, 108, 330, 120, 250)
			s.rect(classBody, 100, 166, 170, 84, 10)
			s.rect(classThin, 122, 184, 90, 36, 4)
		case "bore gauge":
			s.rect(classBody, 150, 70, 130, 120, 14)
			s.rect(classThin, 172, 92, 86, 44, 4)
			s.rect(classBody, 204, 190, 22, 190, 0)
			s.rect(classBody, 170, 376, 90, 34, 8)
			s.line(classOutline, 134, 393, 170, 393)
			s.line(classOutline, 260, 393, 296, 393)
		default:
			s.rect(classBody, 140, 60, 150, 170, 18)
			s.rect(classThin, 164, 86, 102, 58, 5)
			s.rect(classBody, 198, 230, 34, 88, 0)
			s.line(classOutline, 215, 318, 215, 396)
			s.circle(classBody, 215, 410, 13)
		}
	})
	in := s.is("state") == "silent"
	x := 0.0
	if in {
		x = 78
	}
	s.as("plug", func() {
		s.from(map[bool]float64{true: 272, false: 290}[s.is("gauge") != "indicator"], 200).cubic(350, 200, 330, 270, 390+x, 270).draw(classCable)
		s.rect(classLitWash, 390+x, 242, 70, 56, 8)
		s.rect(classBody, 460+x, 258, 22, 24, 0)
	})
	s.as("socket", func() {
		s.from(640, 180).h(566).v(360).h(640).draw(classOutline)
		s.rect(classOutline, 566, 254, 18, 32, 0)
	})
	if s.n.Move == "plug in" && !in {
		s.arrow("right", 492, 270, 560, 270, 15)
		s.say("plug it in")
	}
	s.text(className, 620, 54, map[bool]string{true: "no answer", false: "plug out"}[in], End)
	s.say(map[bool]string{true: "it is plugged in and does not answer", false: "its plug is out"}[in])
}
