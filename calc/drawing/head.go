package drawing

import (
	"math"

	"thoud/calc/quantity"
)

func headRows() []Row {
	volume := []Drive{
		{Name: "volume", Kind: quantity.Volume, Least: 0, Usual: 12.4, Most: 2000, Says: "that has run out of the burette"},
		{Name: "full", Kind: quantity.Volume, Least: 1, Usual: 50, Most: 2000, Says: "what the burette holds"},
	}
	return []Row{
		{
			Name: "burette", draw: burette,
			Says:   "Cylinder head turned over under a greased plate, cut through one chamber: the burette fills it through the plate's hole",
			Jobs:   []string{"chambers"},
			Live:   "volume",
			Drives: volume,
			Moves:  []string{"fill"},
			Lights: []string{"left.chamber", "right.chamber"},
		},
		{
			Name: "cylinder-fill", draw: cylinderFill,
			Says:   "Cylinder cut, the piston down by the depth shown, its rim greased: the burette fills it to the joint face under a plate",
			Jobs:   []string{"compression"},
			Live:   "volume",
			Drives: append([]Drive{{Name: "depth", Kind: quantity.Length, Least: 0, Usual: 10, Most: 30, Says: "of the crown below the joint face"}}, volume...),
			Moves:  []string{"fill"},
			Lights: []string{"left.filled", "right.filled"},
		},
		{
			Name: "valve-guide", draw: valveGuide,
			Says:   "Valve guide and seat in the head, cut: the guide, the stem and the seat are measured where they are lit",
			Jobs:   []string{"stems"},
			Live:   "size",
			Drives: []Drive{{Name: "size", Kind: quantity.Length, Least: -1, Usual: 8, Most: 60, Says: "what the gauge reads"}},
			Moves:  []string{"turn"},
			Lights: []string{"left.inlet.guide", "right.exhaust.stem", "left.exhaust.seat"},
		},
		{
			Name: "spring", draw: spring,
			Says: "Valve springs between their seat and the collar, cut: the fitted height, and the shims under them",
			Jobs: []string{"springs", "valves-in"},
			Live: "fitted",
			Drives: []Drive{
				{Name: "fitted", Kind: quantity.Length, Least: 0.8 * inch, Usual: 1.5 * inch, Most: 1.7 * inch, Says: "from the seat, or the shims on it, to the collar"},
				{Name: "shim", Kind: quantity.Length, Least: 0, Usual: 0, Most: 0.12 * inch, Says: "the shims under the springs, drawn twice as thick"},
			},
			Choices: []Choice{{Name: "which", Of: []string{"outer", "inner"}, Says: "the spring that is measured"}, {Name: "springs", Of: []string{"2", "1"}, Says: "how many there are"}},
			Lights:  []string{"left.inlet", "right.exhaust"},
		},
		{
			Name: "valve-piston", draw: valvePiston,
			Says: "Valve and piston at overlap, cut along front and rear: the distance between them along the valve",
			Jobs: []string{"valve-to-piston"},
			Live: "lift",
			Drives: []Drive{
				{Name: "clearance", Kind: quantity.Length, Least: 0, Usual: 0.1 * inch, Most: 0.2 * inch, Says: "from the valve's face to the pocket's floor, along the valve"},
				{Name: "lift", Kind: quantity.Length, Least: 0, Usual: 0.1 * inch, Most: 0.25 * inch, Says: "of the valve from its seat"},
				{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the crank after overlap top"},
				{Name: "valve_angle", Kind: quantity.Angle, Least: 5, Usual: 22, Most: 42, Says: "between the valve and the cylinder"},
			},
			Moves:  []string{"push"},
			Lights: []string{"left.inlet", "right.exhaust"},
		},
		{
			Name: "valve-valve", draw: valveValve,
			Says:   "Both valves of one cylinder at overlap, cut along front and rear: the least distance between their rims",
			Jobs:   []string{"valve-to-piston"},
			Live:   "clearance",
			Drives: []Drive{{Name: "clearance", Kind: quantity.Length, Least: 0, Usual: 0.08 * inch, Most: 0.2 * inch, Says: "between the rims"}},
			Lights: []string{"left.between", "right.between"},
		},
		{
			Name: "rocker", draw: rocker,
			Says: "Rocker on its shaft between pushrod and valve: the angle gauge lies on its valve arm, the arrow says where the shaft goes",
			Jobs: []string{"rockers", "rockers-on"},
			Live: "angle",
			Drives: []Drive{
				{Name: "angle", Kind: quantity.Angle, Least: -14, Usual: 6, Most: 14, Says: "of the line from the shaft to the valve's tip, above the square; drawn twice as steep"},
			},
			Choices: []Choice{{Name: "pushrod", Of: []string{"same", "shorter", "longer"}, Says: "what becomes of the pushrod"}},
			Moves:   []string{"lower", "raise"},
			Lights:  []string{"left.inlet", "right.exhaust"},
		},
		{
			Name: "lash", draw: lash,
			Says: "Rocker end over the valve's stem: the feeler in the gap, the adjuster with its lock nut above it",
			Jobs: []string{"lash", "lash-again"},
			Live: "lash",
			Drives: []Drive{
				{Name: "lash", Kind: quantity.Length, Least: 0, Usual: 0.004 * inch, Most: 0.06 * inch, Says: "the gap over the stem, drawn much enlarged"},
			},
			Moves:  []string{"tighten", "slacken"},
			Lights: []string{"left.inlet", "right.exhaust"},
		},
		{
			Name: "head-joint", draw: headJoint,
			Says:    "Head going down on the barrel, cut along front and rear: the gasket between them, followers and pushrods, the piston half-way down",
			Jobs:    []string{"head-dry", "head-on"},
			Choices: []Choice{{Name: "gasket", Of: []string{"new", "old"}, Says: "a new one for good, or an old, pressed one for the trial"}},
			Moves:   []string{"lower"},
			Lights:  []string{"left", "right"},
		},
	}
}

// buretteAt stands over x with its tip at y; the level in it is what has run out.
func (s *scene) buretteAt(x, y float64) {
	const top, long = 74.0, 110.0
	share := min(1, s.num("volume")/s.num("full"))
	level := top + 10 + long*share
	s.as("burette", func() {
		s.from(x-20, top-16).v(top+long+24).to(x-8, top+long+42).v(y).h(x+8).v(top+long+42).to(x+20, top+long+24).v(top - 16).draw(classBody)
		s.from(x-18, level).h(x+18).v(top+long+23).to(x+6, top+long+42).v(y-2).h(x-6).v(top+long+42).to(x-18, top+long+23).close().draw(classWash)
		t := &trace{k: s.k()}
		for i := range 11 {
			l := 10.0
			if i%5 == 0 {
				l = 18
			}
			t.move(x+20, top+10+float64(i)*11).h(x + 20 + l)
		}
		t.draw(classThin)
		s.line(classLitLine, x-34, level, x+38, level)
		s.rect(classBody, x-30, top+long+28, 60, 15, 4)
	})
}

// burette: the chamber is filled up to the share of the burette that has run out, 380 to 306.
func burette(s *scene) {
	const plate, cx = 306, 320
	share := min(1, s.num("volume")/s.num("full"))
	s.as("head", func() {
		s.from(50, plate+2).h(180).cubic(190, 400, 250, 438, 320, 438).cubic(390, 438, 450, 400, 460, plate+2).h(590).v(468).h(50).close().cut(rising)
	})
	y := 428 - 118*math.Sqrt(share)
	half := 138 * math.Sqrt(max(0.06, 1-math.Pow((y-plate)/134, 2)))
	s.as("liquid", func() {
		s.from(cx-half, y).cubic(cx-half+16, 424, 262, 436, cx, 436).cubic(378, 436, cx+half-16, 424, cx+half, y).close().draw(classWash)
	})
	s.buretteAt(306, 292)
	s.as("plate", func() {
		s.rect(classBody, 120, plate-20, 174, 20, 0)
		s.rect(classBody, 318, plate-20, 202, 20, 0)
	})
	s.text(classNote, 30, 262, "plate, greased", Start)
	s.line(classThin, 130, 272, 150, 286)
	s.text(classNote, 620, 250, "head turned over", End)
	s.named(s.side())
	s.figured("", "volume")
	s.fillWords()
}

func (s *scene) fillWords() {
	if s.n.Move == "fill" {
		s.arrow("down", 400, 120, 400, 200, 18)
		s.say("fill it until no bubble is left")
	}
}

// cylinderFill: 8 units are a millimetre of depth below the joint face.
func cylinderFill(s *scene) {
	const face, cx = 306, 320
	crown := face + max(10, 8*min(16, s.num("depth")))
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(132), face).h(x(180)).v(340).h(x(220)).v(354).h(x(180)).v(390).h(x(220)).v(404).h(x(180)).v(470).h(x(132)).close().cut(rising)
		}
	})
	s.as("liquid", func() { s.rect(classWash, cx-128, face, 256, crown-face, 0) })
	s.as("piston", func() {
		s.rect(classBody, cx-126, crown, 252, 470-crown, 0)
		s.line(classThin, cx-126, crown+14, cx+126, crown+14)
	})
	s.buretteAt(306, 292)
	s.as("plate", func() {
		s.rect(classBody, 130, face-20, 164, 18, 0)
		s.rect(classBody, 318, face-20, 192, 18, 0)
	})
	s.line(classThin, 130, face, 70, face)
	s.line(classThin, 190, crown, 70, crown)
	s.dim(84, face, 84, crown, classNote, "", 0, 0, Middle)
	if v := s.written("depth", ""); v != "" {
		s.text(classValue, 20, 250, v, Start)
		s.say("piston down " + v)
	}
	s.named(s.side())
	s.figured("", "volume")
	s.fillWords()
}

// valveGuide: the guide upright in the middle, the seat at its foot; the stem is beside it when it is read.
func valveGuide(s *scene) {
	const cx = 250
	s.as("head", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(46), 190).h(x(180)).v(440).h(x(150)).v(402).h(x(116)).v(370).to(x(96), 350).quad(x(60), 320, x(46), 300).close().cut(rising)
			s.k().cut(pick(s.at("guide"), classLitCut, classCut), s.from(x(20), 120).h(x(44)).v(330).h(x(20)).close().segs, hatching{45, 9})
			s.k().cut(pick(s.at("seat"), classLitCut, classCut), s.from(x(118), 372).h(x(148)).v(400).h(x(98)).close().segs, hatching{45, 7})
		}
	})
	s.line(classAxis, cx, 100, cx, 476)
	switch {
	case s.at("guide"):
		s.boreGauge(cx-20, 220, cx+20, 220, 0, -130)
		s.named(s.side(), s.valve())
		s.text(classValue, 20, 104, "guide", Start)
	case s.at("stem"):
		s.as("valve", func() {
			s.from(520, 110).h(548).v(360).quad(552, 390, 596, 408).v(420).h(472).v(408).quad(516, 390, 520, 360).close().draw(classLitBody)
		})
		s.micrometer(520, 548, 220, 64, 1)
		s.named(s.side(), s.valve())
		s.text(classValue, 20, 104, "stem", Start)
	case s.at("seat"):
		s.as("pilot", func() {
			s.rect(classBody, cx-18, 130, 36, 320, 4)
			s.from(cx+18, 440).h(cx + 90).v(404).draw(classOutline)
		})
		s.circle(classTip, cx+108, 386, 9)
		s.as("indicator", func() { s.rect(classBody, cx+40, 424, 76, 44, 8) })
		s.named(s.side(), s.valve())
		s.text(classValue, 20, 104, "seat", Start)
		if s.n.Move == "turn" {
			s.turn("clockwise", cx, 150, 62, -60, 60)
			s.say("once round")
		}
	}
	s.text(classNote, 452, 250, map[bool]string{true: "", false: "guide"}[s.at("stem")], Start)
	if !s.at("stem") {
		s.line(classThin, 446, 240, cx+40, 170)
		s.text(classNote, 452, 452, "seat", Start)
		s.line(classThin, 446, 442, cx+140, 392)
	}
	s.figured("", "size")
}

// spring: the seat is y = 410, the collar stands 190 units an inch of fitted height above it.
func spring(s *scene) {
	const y0, k, cx = 406, 180 / inch, 300
	t := 2 * k * s.num("shim")
	if t > 0 {
		t = max(8, t)
	}
	top := y0 - k*s.num("fitted")
	inner := s.is("which") == "inner" && s.is("springs") == "2"
	s.as("head", func() {
		s.from(150, y0+t).h(276).v(474).h(150).close().cut(rising)
		s.from(450, y0+t).h(324).v(474).h(450).close().cut(rising)
	})
	if t > 0 {
		s.as("shims", func() {
			s.rect(classLitWash, 158, y0, 114, t, 0)
			s.rect(classLitWash, 328, y0, 114, t, 0)
		})
		s.text(classValue, 628, 468, join([]string{"shim", s.written("shim", "")}), End)
		s.say("shims " + s.written("shim", "under the springs"))
	}
	s.as("guide", func() {
		s.from(276, y0-60).h(286).v(474).h(276).close().cut(falling)
		s.from(324, y0-60).h(314).v(474).h(324).close().cut(falling)
	})
	s.as("valve", func() { s.rect(classBody, 287, top-74, 26, 474-top+74, 0) })
	s.as("collar", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return cx + m*v }
			s.from(x(144), top).v(top-24).h(x(58)).to(x(20), top-56).h(x(14)).v(top + 22).h(x(44)).v(top).close().cut(falling)
		}
	})
	s.line(classAxis, cx, top-84, cx, 478)
	s.as("outer spring", func() { s.coil(!inner, cx, 124, 14, top, y0, 5) })
	if s.is("springs") == "2" {
		s.as("inner spring", func() { s.coil(inner, cx, 72, 10, top+22, y0, 7) })
	}
	yt, xe := top, 446.0
	if inner {
		yt, xe = top+22, 384
	}
	s.line(classThin, xe, yt, 560, yt)
	s.line(classThin, 446, y0, 560, y0)
	s.dim(540, yt, 540, y0, classFigure, "h", 586, (yt+y0)/2+14, Middle)
	s.figured("", "fitted")
	s.named(s.side(), s.valve())
	if s.is("springs") == "2" {
		s.text(classValue, 20, 102, s.is("which"), Start)
	}
}

// headJoint: the head above its joint, the followers' pushrods in front.
func headJoint(s *scene) {
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			x := func(v float64) float64 { return 320 + m*v }
			s.from(x(112), 300).h(x(170)).v(330).h(x(206)).v(342).h(x(170)).v(376).h(x(206)).v(388).h(x(170)).v(422).h(x(206)).v(434).h(x(170)).v(470).h(x(112)).close().cut(falling)
		}
	})
	s.as("piston", func() {
		s.rect(classBody, 214, 388, 212, 82, 0)
		s.line(classThin, 214, 404, 426, 404)
		s.line(classThin, 214, 418, 426, 418)
	})
	s.as("gasket", func() {
		s.rect(classLitWash, 150, 262, 62, 14, 0)
		s.rect(classLitWash, 428, 262, 62, 14, 0)
	})
	s.as("head", func() {
		s.from(150, 232).v(200).h(114).v(188).h(150).v(160).h(114).v(148).h(150).v(112).h(490).v(148).h(526).v(160).h(490).v(188).h(526).v(200).h(490).v(232).h(428).quad(320, 130, 212, 232).close().cut(rising)
	})
	s.as("pushrods", func() {
		s.rect(classBody, 548, 90, 14, 380, 3)
		s.rect(classBody, 576, 90, 14, 380, 3)
	})
	s.line(classAxis, 320, 90, 320, 476)
	s.text(classNote, 20, 262, s.is("gasket"), Start)
	s.text(classNote, 20, 296, "gasket", Start)
	s.line(classThin, 124, 268, 148, 269)
	s.text(classNote, 532, 78, "pushrods", Middle)
	s.named(s.side())
	if s.n.Move == "lower" {
		s.arrow("down", 60, 96, 60, 200, 22)
		s.say("the head goes down")
	}
}
