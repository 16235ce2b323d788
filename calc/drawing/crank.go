package drawing

import "thoud/calc/quantity"

func crankRows() []Row {
	return []Row{
		{
			Name: "crank-float", draw: crankFloat,
			Says:    "Crankshaft in its cases, cut: it is pushed and pulled along its axis, the indicator stands on its end",
			Jobs:    []string{"end-float", "cases-closed"},
			Live:    "float",
			Drives:  []Drive{{Name: "float", Kind: quantity.Length, Least: 0, Usual: 0.008 * inch, Most: 0.06 * inch, Says: "the whole movement; the gap at the bearing is drawn much enlarged"}},
			Choices: []Choice{{Name: "shims", Of: []string{"none", "fitted"}, Says: "whether shims stand beside the bearing"}},
			Moves:   []string{"push", "pull"},
			Lights:  []string{"push", "pull", "bare", "float"},
		},
		{
			Name: "crank-runout", draw: crankRunout,
			Says:   "Crankshaft on two vee blocks, turned by hand; the indicator stands square on the end journal",
			Jobs:   []string{"crank-runout"},
			Live:   "reading",
			Drives: []Drive{{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the crank from its mark, in the running direction"}, {Name: "reading", Kind: quantity.Length, Least: -1, Usual: 0, Most: 1, Says: "of the indicator"}},
			Choices: []Choice{
				{Name: "journal", Of: []string{"right", "left"}, Says: "which end journal is read"},
			},
			Moves:  []string{"turn"},
			Lights: []string{"left", "right"},
		},
	}
}

// shaft draws a two-throw crank with its pins in line, dx to the right of its usual place.
func (s *scene) shaft(dx, y float64, litEnd string) {
	x := func(v float64) float64 { return v + dx }
	s.as("crankshaft", func() {
		s.rect(classBody, x(40), y-20, 90, 40, 0)
		s.rect(pick(litEnd == "left", classLitBody, classBody), x(130), y-30, 60, 60, 0)
		s.rect(classBody, x(226), y-118, 60, 46, 0)
		s.rect(classBody, x(354), y-118, 60, 46, 0)
		for _, c := range [][2]float64{{190, 38}, {412, 38}, {284, 72}} {
			s.rect(classBody, x(c[0]), y-130, c[1], 236, 8)
		}
		s.rect(pick(litEnd == "right", classLitBody, classBody), x(450), y-30, 60, 60, 0)
		s.rect(classBody, x(510), y-20, 60, 40, 0)
		s.line(classAxis, x(206), y-95, x(434), y-95)
		s.line(classAxis, x(20), y, x(590), y)
	})
}

// crankFloat: the gap between cheek and bearing at the pulled side is float, drawn 600 units an inch and at least 8.
func crankFloat(s *scene) {
	const dx, y = -34, 228
	x := func(v float64) float64 { return v + dx }
	s.as("cases", func() {
		for _, m := range []float64{-1, 1} {
			yy := func(v float64) float64 { return y + m*v }
			s.from(x(182), yy(80)).h(x(96)).v(yy(164)).h(x(182)).close().cut(rising)
			s.from(x(458), yy(80)).h(x(544)).v(yy(164)).h(x(458)).close().cut(rising)
		}
	})
	shift := min(14, max(5, 300/inch*s.num("float")))
	if s.n.Move == "push" || s.at("push") {
		shift = -shift
	}
	s.shaft(dx+shift, y, "")
	s.as("bearings", func() {
		for _, bx := range []float64{130, 458} {
			for _, q := range []float64{y - 78, y + 30} {
				s.rect(classBody, x(bx), q, 52, 48, 0)
				s.line(classThin, x(bx), q, x(bx)+52, q+48)
				s.line(classThin, x(bx)+52, q, x(bx), q+48)
			}
		}
	})
	if s.is("shims") == "fitted" {
		s.as("shims", func() {
			for _, q := range []float64{y - 74, y + 30} {
				s.rect(classLitWash, x(450), q, 8, 44, 0)
			}
		})
		s.say("shims stand between the cheek and the bearing")
	}
	s.indicator(x(570)+shift, y, 90, 12, 0.54)
	s.floatMove(x(590), y)
}

func (s *scene) floatMove(tip, y float64) {
	move := s.n.Move
	if move == "" {
		move = map[bool]string{s.at("push"): "push", s.at("pull"): "pull"}[true]
	}
	draw := map[bool]func(string, float64, float64, float64, float64, float64){true: s.arrow, false: s.backArrow}
	draw[move == "push"]("left", 190, 440, 60, 440, 24)
	draw[move != "push"]("right", 386, 440, 516, 440, 24)
	s.text(className, 288, 457, map[bool]string{true: "push", false: "pull"}[move == "push"], Middle)
	if v := s.written("float", ""); v != "" {
		s.text(classFigure, 620, 48, v, End)
		s.say("float " + v)
	}
	s.say(map[bool]string{true: "push it to the left now", false: "pull it to the right now"}[move == "push"])
}

func crankRunout(s *scene) {
	const y = 232
	end := s.is("journal")
	if side := s.side(); side != "" {
		end = side
	}
	s.as("vee blocks", func() {
		for _, x := range []float64{160, 480} {
			s.from(x-56, y+150).v(y+112).to(x-34, y+92).v(y+30).h(x+34).v(y+92).to(x+56, y+112).v(y + 150).close().cut(rising)
		}
		s.line(classOutline, 30, y+150, 610, y+150)
	})
	s.shaft(0, y, end)
	tip := map[string]float64{"left": 146, "right": 494}[end]
	s.indicator(tip, y-30, 0, 40, 0.7)
	s.turn("clockwise", 90, y, 66, 215, 325)
	s.text(className, 20, 56, s.written("angle", "turn"), Start)
	if v := s.written("reading", ""); v != "" {
		s.text(classFigure, 620, 52, v, End)
	}
	s.text(classNote, 320, 440, "one slow turn by hand", Middle)
	s.say("the indicator stands on the " + end + " journal")
}
