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
			Lights:  []string{"push", "pull", "bare"},
		},
		{
			Name: "crank-runout", draw: crankRunout,
			Says:   "Crankshaft on two vee blocks, turned by hand; the indicator stands square on the end journal",
			Jobs:   []string{"crank-runout"},
			Live:   "reading",
			Drives: []Drive{{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the crank from its mark, in the running direction"}, {Name: "reading", Kind: quantity.Length, Least: -1, Usual: 0, Most: 1, Says: "of the indicator"}},
			Moves:  []string{"turn"},
			Lights: []string{"left", "right", "turn", "135deg"},
		},
		{
			Name: "camshaft-float", draw: camshaftFloat,
			Says:   "Camshaft in its two bearings, cut: it is pushed and pulled along its axis, the indicator stands on its end",
			Jobs:   []string{"end-float"},
			Live:   "float",
			Drives: []Drive{{Name: "float", Kind: quantity.Length, Least: 0, Usual: 0.007 * inch, Most: 0.06 * inch, Says: "the whole movement, drawn much enlarged"}},
			Moves:  []string{"push", "pull"},
			Lights: []string{"push", "pull"},
		},
		{
			Name: "rod-side", draw: rodSide,
			Says:   "Mouths of the cases from above, a rod in each: the depth gauge measures from the mouth's edge to the rod",
			Jobs:   []string{"end-float"},
			Live:   "side",
			Drives: []Drive{{Name: "side", Kind: quantity.Length, Least: 0, Usual: 20, Most: 60, Says: "from the mouth's edge to the rod"}},
			Lights: []string{"left", "right"},
		},
		{
			Name: "rod-bearing", draw: rodBearing,
			Says: "Connecting rod with its cap and two bolts: the bolts are pulled up by stretch, the bearing is measured in the rod and its journal beside it",
			Jobs: []string{"rod-bearings", "rods-on"},
			Live: "reading",
			Drives: []Drive{
				{Name: "reading", Kind: quantity.Length, Least: -10, Usual: 0, Most: 200, Says: "what the gauge reads: a bolt's stretch, the shell's bore or the journal"},
				{Name: "journal_angle", Kind: quantity.Angle, Least: -360, Usual: 0, Most: 360, Says: "where round the journal it is read"},
			},
			Moves:  []string{"tighten"},
			Lights: []string{"left.bolt-1", "right.bolt-2", "left.shell", "right.journal.90deg"},
		},
		{
			Name: "weighing", draw: weighing,
			Says:   "Connecting rod held level: one end on the scale, the other hung at the same height, so that the scale shows that end's share",
			Jobs:   []string{"weights"},
			Live:   "mass",
			Drives: []Drive{{Name: "mass", Kind: quantity.Mass, Least: 0, Usual: 250, Most: 5000, Says: "what the scale shows"}},
			Lights: []string{"left.small", "right.big", "left.whole", "right.lot", "hung"},
		},
		{
			Name: "cases", draw: cases,
			Says:   "Cases from above, cut at the shafts: the crankshaft in its bearings, the camshaft behind it, the joint between the halves",
			Jobs:   []string{"cases-dry", "cases-closed", "wash-cases"},
			Twin:   TwinCylinders,
			Moves:  []string{"close"},
			Lights: []string{"camshaft", "joint"},
		},
		{
			Name: "bush", draw: bush,
			Says:   "Camshaft bushes in the case, cut, and the shaft's journals beside them; the oil pump with a straight edge over its gears",
			Jobs:   []string{"cam-bush"},
			Live:   "size",
			Drives: []Drive{{Name: "size", Kind: quantity.Length, Least: 0, Usual: 22, Most: 80, Says: "what the gauge reads"}},
			Lights: []string{"bush-1.hole", "bush-3.journal", "pump"},
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
	if s.move() == "push" {
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
	move := s.move()
	swing := move == "" && s.at("bare", "float") // the whole movement, to and fro
	draw := map[bool]func(string, float64, float64, float64, float64, float64){true: s.arrow, false: s.backArrow}
	draw[move == "push" || swing]("left", 166, 440, 46, 440, 24)
	draw[move == "pull" || swing]("right", 400, 440, 520, 440, 24)
	s.text(className, 283, 457, map[bool]string{true: "to and fro", false: move}[swing], Middle)
	if v := s.written("float", ""); v != "" {
		s.text(classFigure, 620, 48, v, End)
		s.say("float " + v)
	}
	if move != "" {
		s.say(map[string]string{"push": "push it to the left now", "pull": "pull it to the right now"}[move])
	}
}

func crankRunout(s *scene) {
	const y = 232
	end := s.side()
	s.as("vee blocks", func() {
		for _, x := range []float64{160, 480} {
			s.from(x-56, y+150).v(y+112).to(x-34, y+92).v(y+30).h(x+34).v(y+92).to(x+56, y+112).v(y + 150).close().cut(rising)
		}
		s.line(classOutline, 30, y+150, 610, y+150)
	})
	s.shaft(0, y, end)
	tip := map[string]float64{"left": 146, "right": 494, "": 494}[end]
	s.indicator(tip, y-30, 0, 40, 0.66)
	if _, text := s.angle("angle"); s.move() == "turn" || text != "" {
		s.turn("clockwise", 90, y, 66, 215, 325)
	}
	_, text := s.angle("angle")
	s.text(className, 20, 56, text, Start)
	if v := s.written("reading", ""); v != "" {
		s.text(classFigure, 620, 52, v, End)
	}
	s.text(classNote, 320, 440, "one slow turn by hand", Middle)
	s.say("the indicator stands on the " + join([]string{end, "end journal"}))
}
