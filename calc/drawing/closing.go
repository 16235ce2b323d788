package drawing

import "thoud/calc/quantity"

func closingRows() []Row {
	return []Row{
		{
			Name: "followers", draw: followers,
			Says:    "Guide block in the barrel, cut through both followers: each from the cam side into its own hole, a keeper of rubber tube over its upper end",
			Jobs:    []string{"followers", "keepers-out", "dry-top", "strip-down"},
			Choices: []Choice{{Name: "keepers", Of: []string{"on", "off"}, Says: "whether the keepers are on the followers' upper ends"}},
			Moves:   []string{"in", "keepers off"},
			Lights:  []string{"left.inlet", "right.exhaust", "left"},
		},
		{
			Name: "piston-on", draw: pistonOn,
			Says:   "Piston going on its rod, cut across the pin: the pin goes in by hand, the mouth below is covered",
			Jobs:   []string{"pistons-on"},
			Moves:  []string{"pin in"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "barrel-over", draw: barrelOver,
			Says: "Barrel over its piston, cut: the clamp on the rings, the board under the skirt across the cases' mouth, the sleeve's edge on the clamp",
			Jobs: []string{"board-clamps", "barrels-over", "barrels-down", "barrels-dry"},
			Drives: []Drive{
				{Name: "down", Kind: quantity.Length, Least: 0, Usual: 0, Most: 60, Says: "how far the barrel has come down over the piston"},
			},
			Choices: []Choice{
				{Name: "stage", Of: []string{"clamps", "over", "down"}, Says: "clamp and board on; the barrel over the rings with the clamp on the board; both out and the barrel near its joint"},
			},
			Moves:  []string{"lower"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "base-joint", draw: baseJoint,
			Says:    "Foot of the barrel on the cases, cut: plates and gasket round the sleeve, the base bolt that holds it",
			Jobs:    []string{"barrels-dry", "compression", "base-bolts", "barrels-down"},
			Live:    "plate",
			Drives:  []Drive{{Name: "plate", Kind: quantity.Length, Least: 0, Usual: 0, Most: 3, Says: "of the plates under the barrel, drawn much enlarged"}},
			Choices: []Choice{{Name: "gasket", Of: []string{"on", "none"}, Says: "whether a gasket lies in the joint"}, {Name: "bolt", Of: []string{"nipped", "tight", "out"}, Says: "the base bolts"}},
			Moves:   []string{"fit plate", "tighten"},
			Lights:  []string{"left", "right"},
		},
	}
}

// followers: the barrel stands upright, the cam below.
func followers(s *scene) {
	s.as("barrel flange", func() {
		s.from(60, 150).h(180).v(300).h(60).close().cut(rising)
		s.from(460, 150).h(580).v(300).h(460).close().cut(rising)
	})
	s.as("guide block", func() {
		for _, x := range [][2]float64{{180, 216}, {284, 356}, {424, 460}} {
			s.from(x[0], 150).h(x[1]).v(340).h(x[0]).close().cut(falling)
		}
	})
	for _, v := range []struct {
		name string
		x    float64
	}{{"exhaust", 250}, {"inlet", 390}} {
		on := s.valve() == v.name || s.valve() == ""
		s.as(v.name+" follower", func() {
			s.from(v.x-31, 118).h(v.x + 31).v(376).h(v.x + 52).v(398).h(v.x - 52).v(376).h(v.x - 31).close().draw(pick(on, classLitBody, classBody))
			s.line(classAxis, v.x, 76, v.x, 430)
		})
		if s.is("keepers") == "on" {
			s.as("keeper", func() {
				s.from(v.x-44, 98).h(v.x - 32).v(146).h(v.x - 44).close().draw(classLitWash)
				s.from(v.x+32, 98).h(v.x + 44).v(146).h(v.x + 32).close().draw(classLitWash)
			})
		}
		s.text(classNote, v.x, 470, v.name, Middle)
	}
	s.named(s.side())
	if s.is("keepers") == "on" {
		s.text(classValue, 620, 100, "keepers", End)
		s.line(classThin, 470, 92, 440, 116)
		s.say("a keeper is on each follower's upper end")
	}
	switch s.n.Move {
	case "in":
		s.arrow("up", 120, 450, 120, 340, 22)
		s.say("the follower goes in from below, the cam side")
	case "keepers off":
		s.arrow("up", 320, 130, 320, 40, 20)
		s.say("the keepers come off upwards, whole")
	}
	s.text(classNote, 620, 440, "cam side", End)
}

// pistonOn: seen along the shafts' direction from behind, pin across.
func pistonOn(s *scene) {
	s.as("cases", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return 280 + m*v }
			s.from(x(120), 410).h(x(240)).v(470).h(x(150)).v(440).h(x(120)).close().cut(rising)
		}
	})
	s.as("cover in the mouth", func() {
		s.from(164, 416).quad(220, 396, 262, 414).v(440).quad(210, 452, 164, 436).close().draw(classWash)
		s.from(298, 414).quad(350, 396, 396, 416).v(436).quad(350, 452, 298, 440).close().draw(classWash)
	})
	s.as("rod", func() {
		s.from(252, 200).h(308).v(290).h(296).v(470).h(264).v(290).h(252).close().draw(classBody)
		s.line(classAxis, 280, 70, 280, 476)
	})
	s.as("piston", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return 280 + m*v }
			s.from(x(0), 100).h(x(150)).v(216).h(x(36)).v(168).h(x(0)).close().cut(rising)
			s.from(x(150), 268).v(370).h(x(126)).v(300).h(x(36)).v(268).close().cut(rising)
		}
	})
	x := 0.0
	if s.n.Move == "pin in" {
		x = 196
		s.arrow("left", 610, 300, 500, 300, 20)
		s.say("the pin goes in by hand")
	}
	s.as("pin", func() { s.rect(classLitBody, 142+x, 219, 276, 46, 0) })
	s.line(classAxis, 90, 242, 630, 242)
	s.named(s.side())
	s.text(classNote, 620, 474, "mouth covered", End)
}

// barrelOver: the stage says where clamp, board and barrel are.
func barrelOver(s *scene) {
	const cx = 300
	stage := s.is("stage")
	foot := map[string]float64{"clamps": 172, "over": 262, "down": 366}[stage] + min(40, s.num("down"))
	s.as("cases", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(114), 400).h(x(250)).v(472).h(x(114)).close().cut(rising)
		}
	})
	s.as("rod", func() { s.rect(classBody, cx-16, 300, 32, 172, 0) })
	s.as("piston", func() {
		s.from(cx-96, 190).h(cx + 96).v(350).h(cx - 96).close().draw(classBody)
		for _, y := range []float64{208, 228, 248} {
			s.rect(classThin, cx-98, y, 196, 10, 0)
		}
		s.circle(classOutline, cx, 300, 24)
	})
	if stage != "down" {
		y := 196.0
		if stage == "over" {
			y = 318
		}
		s.as("board", func() {
			s.rect(classLitWash, cx-190, 366, 168, 26, 0)
			s.rect(classLitWash, cx+22, 366, 168, 26, 0)
		})
		s.as("clamp", func() {
			s.from(cx-112, y).h(cx - 98).v(y + 66 - map[bool]float64{true: 20}[stage == "over"]).h(cx - 112).close().draw(classLitWash)
			s.from(cx+98, y).h(cx + 112).v(y + 66 - map[bool]float64{true: 20}[stage == "over"]).h(cx + 98).close().draw(classLitWash)
		})
		s.text(classValue, 628, 388, "board", End)
		s.text(classValue, 628, y+28, "clamp", End)
		s.line(classThin, 506, y+16, cx+116, y+16)
	}
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(100), 76).h(x(132)).v(foot - 60).h(x(210)).v(foot - 20).h(x(112)).v(foot).h(x(100)).close().cut(falling)
		}
	})
	s.line(classAxis, cx, 64, cx, 476)
	s.named(s.side())
	if s.n.Move == "lower" {
		s.arrow("down", 50, 100, 50, 210, 22)
		s.say("lower it level")
	}
	s.say(map[string]string{"clamps": "the sleeve's edge stands hard against the clamp", "over": "the clamp lies on the board", "down": "board and clamp are out"}[stage])
}

// baseJoint: plates are drawn 20 units a millimetre, at least 9 where there are any.
func baseJoint(s *scene) {
	const cases = 350
	t := min(60, 20*s.num("plate"))
	if t > 0 {
		t = max(9, t)
	}
	g := map[string]float64{"on": 9, "none": 0}[s.is("gasket")]
	joint := cases - t - g
	s.as("cases", func() { s.from(150, cases).h(560).v(470).h(150).close().cut(rising) })
	if g > 0 {
		s.as("gasket", func() { s.rect(classBar, 152, cases-g, 404, g, 0) })
	}
	if t > 0 {
		s.as("plate", func() { s.rect(classLitWash, 150, joint, 410, t, 0) })
		s.line(classThin, 566, joint, 620, joint)
		s.line(classThin, 566, joint+t, 620, joint+t)
		s.dim(604, joint, 604, joint+t, classNote, "", 0, 0, Middle)
	}
	s.as("barrel", func() {
		s.from(150, joint).h(560).v(joint - 96).h(210).v(joint - 130).h(260).v(joint - 142).h(210).v(joint - 180).h(260).v(joint - 192).h(210).v(96).h(150).close().cut(falling)
		s.from(112, 96).h(146).v(440).h(112).close().cut(fine)
	})
	if s.is("bolt") != "out" {
		s.as("base bolt", func() {
			s.rect(classBody, 400, joint-96, 40, 96+450-joint, 0)
			s.rect(pick(s.n.Move == "tighten", classLitWash, classBody), 382, joint-134, 76, 38, 4)
			s.line(classAxis, 420, joint-160, 420, 474)
			for y := 380.0; y < 446; y += 11 {
				s.line(classThin, 400, y, 440, y-5)
			}
		})
		s.text(classNote, 510, joint-106, s.is("bolt"), Start)
		if s.n.Move == "tighten" {
			s.turn("clockwise", 420, joint-112, 68, -55, 55)
		}
	}
	s.line(classAxis, 60, 84, 60, 476)
	s.text(classNote, 78, 470, "bore", Middle)
	s.named(s.side())
	s.figured("plate", "plate")
	if s.n.Move == "fit plate" {
		s.arrow("left", 640, joint+t/2, 570, joint+t/2, 16)
		s.say("the plate goes under the barrel")
	}
}
