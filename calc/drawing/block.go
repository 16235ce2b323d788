package drawing

import "thoud/calc/quantity"

const inch = 25.4

func blockRows() []Row {
	return []Row{
		{
			Name: "block-read", draw: blockRead,
			Says: "Barrel turned over on the bench, cam side up, cut through both guide blocks; the indicator stands on a bridge over the joint face",
			Jobs: []string{"block-contact", "block-proof", "blocks-dry", "blocks-locked"},
			Twin: TwinBlocks,
			Live: "protrusion",
			Drives: []Drive{
				{Name: "protrusion", Kind: quantity.Length, Least: 0, Usual: 0.17 * inch, Most: 0.25 * inch, Says: "from the joint face to the block's end, at its drawn edge"},
				{Name: "target", Kind: quantity.Length, Least: 0, Usual: 0.16 * inch, Most: 0.25 * inch, Says: "where the end is to stand; a line with two dots, drawn only where it is known"},
			},
			Choices: []Choice{{Name: "seat", Of: []string{"loose", "seated"}, Says: "held by its set screw alone, or on the screw's cone for good"}},
			Moves:   []string{"away", "towards", "grind"},
			Lights:  []string{"left", "right", "datum", "left.dry", "right.locked"},
		},
		{
			Name: "block-contact", draw: blockContact,
			Says: "Barrel the right way up on its joint, cut through one guide block: the block stands above the cam, the lobe pushes it up",
			Jobs: []string{"block-contact"},
			Drives: []Drive{
				{Name: "clearance", Kind: quantity.Length, Least: 0, Usual: 0.05 * inch, Most: 0.1 * inch, Says: "from the lobe's nose to the block's end; 0 at contact"},
				{Name: "angle", Kind: quantity.Angle, Least: -1e6, Usual: 0, Most: 1e6, Says: "of the camshaft from the nose upwards, clockwise"},
			},
			Moves:  []string{"turn", "away", "towards"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "block-corner", draw: blockCorner,
			Says: "End of a guide block, turned over, in its flange: one corner of its end stands proud of the joint face and is read",
			Jobs: []string{"block-proof"},
			Live: "proud",
			Drives: []Drive{
				{Name: "proud", Kind: quantity.Length, Least: 0, Usual: 0.031 * inch, Most: 0.1 * inch, Says: "how far the drawn corner stands above the joint face"},
			},
			Moves:  []string{"grind"},
			Lights: []string{"left", "right"},
		},
		{
			Name: "cone-seat", draw: coneSeat,
			Says: "Cone-pointed set screw in its seat in the guide block, cut: it is to bear on the pilot's rim, with air under its tip",
			Jobs: []string{"block-seat"},
			Live: "seat_depth",
			Drives: []Drive{
				{Name: "seat_drill", Kind: quantity.Length, Least: 3, Usual: 0.25 * inch, Most: 0.3 * inch, Says: "its diameter, the wider drill"},
				{Name: "seat_depth", Kind: quantity.Length, Least: 0.5, Usual: 0.14 * inch, Most: 0.24 * inch, Says: "from the block's face to its tip"},
				{Name: "pilot_drill", Kind: quantity.Length, Least: 1, Usual: 0.125 * inch, Most: 0.2 * inch, Says: "its diameter, the narrower drill"},
				{Name: "pilot_depth", Kind: quantity.Length, Least: 0.5, Usual: 0.205 * inch, Most: 0.26 * inch, Says: "from the block's face to its tip"},
				{Name: "screw_diameter", Kind: quantity.Length, Least: 3, Usual: 0.25 * inch, Most: 0.3 * inch, Says: "over its thread"},
				{Name: "cone_angle", Kind: quantity.Angle, Least: 60, Usual: 90, Most: 120, Says: "of the screw's point"},
			},
			Choices: []Choice{{Name: "bears", Of: []string{"rim", "bottom"}, Says: "where the point bears: on the rim of the pilot, as is wanted, or on its bottom"}},
			Moves:   []string{"deeper"},
			Lights:  []string{"left.pilot", "right.seat"},
		},
		{
			Name: "block-lock", draw: blockLock,
			Says:    "Guide block in the barrel's flange, cut: the set screw's cone in the block's seat, the tab over its end with its two screws",
			Jobs:    []string{"blocks-locked", "dry-top", "block-proof"},
			Choices: []Choice{{Name: "compound", Of: []string{"none", "on"}, Says: "whether sealing and locking compound is on the threads"}},
			Moves:   []string{"screw in"},
			Lights:  []string{"left", "right"},
		},
		{
			Name: "screw-hole", draw: screwHole,
			Says: "Barrel flange seen on its edge, a square standing on it: a line is scribed across the edge, the punch goes on it at the height shown",
			Jobs: []string{"screw-hole"},
			Live: "thickness",
			Drives: []Drive{
				{Name: "thickness", Kind: quantity.Length, Least: 6, Usual: 0.5 * inch, Most: 0.9 * inch, Says: "of the flange"},
				{Name: "height", Kind: quantity.Length, Least: 1, Usual: 0.25 * inch, Most: 0.8 * inch, Says: "of the punch mark above the joint face"},
			},
			Moves:  []string{"punch"},
			Lights: []string{"left.thickness", "right"},
		},
		{
			Name: "block-fit", draw: blockFit,
			Says:   "The fits of a guide block, from above: the round seat in the flange, the block in it, its two holes and a follower; each is measured where it is lit",
			Jobs:   []string{"block-fit"},
			Live:   "size",
			Drives: []Drive{{Name: "size", Kind: quantity.Length, Least: 0, Usual: 30, Most: 200, Says: "what the gauge reads"}},
			Lights: []string{"left.seat", "right.block", "left.inlet.hole", "right.exhaust.follower", "left.exhaust.hole"},
		},
	}
}

// blockRead: the joint face is y = 262; a block's end stands 400 units an inch above it. The barrel lies turned over end for
// end: its left is left, its front is towards the viewer.
func blockRead(s *scene) {
	const face, k = 262, 400 / inch
	p, target := s.num("protrusion"), s.num("target")
	y, yt := face-k*p, face-k*target
	side := s.side()
	// The flange, cut: three lands beside the two seats.
	s.as("barrel flange", func() {
		for _, x := range [][2]float64{{20, 76}, {236, 300}, {460, 520}} {
			s.from(x[0], face).h(x[1]).v(348).h(x[0]).close().cut(rising)
		}
	})
	for _, b := range []struct {
		name string
		x    float64
	}{{"left", 76}, {"right", 300}} {
		on := side == b.name
		top := face - k*s.drive("protrusion").Usual
		if on {
			top = y
		}
		s.as(b.name+" block", func() {
			for _, w := range [][2]float64{{0, 46}, {114, 160}} {
				s.k().cut(pick(on, classLitCut, classCut), s.from(b.x+w[0], top).h(b.x+w[1]).v(348).h(b.x+w[0]).close().segs, falling)
			}
			s.line(pick(on, classLit, classOutline), b.x+46, top, b.x+114, top)
			s.line(pick(on, classLit, classOutline), b.x+46, 348, b.x+114, 348)
			s.line(classAxis, b.x+80, top-12, b.x+80, 360)
			s.text(pick(on, className, classValue), b.x+80, 322, map[string]string{"left": "L", "right": "R"}[b.name], Middle)
		})
	}
	x := map[string]float64{"left": 76, "right": 300}[side]
	s.blockGauge(side, x, y, face)
	if side != "" && s.known("target") {
		if d := yt - y; d < 16 && d > -16 && s.n.Move != "" {
			yt = y + 16*map[bool]float64{true: 1, false: -1}[s.n.Move != "towards"]
		}
		s.as("target", func() { s.line(classOther, x-14, yt, x+190, yt) })
	}
	if side != "" {
		seat := s.is("seat")
		if s.at("dry", "locked") {
			seat = "seated"
		}
		s.as("set screw", func() {
			in := map[string]float64{"loose": 0, "seated": 16}[seat]
			s.poly(classLitWash, x-50, 292, x-2, 292, x-2+in, 302, x-2, 312, x-50, 312)
		})
		s.say(map[string]string{"loose": "held by its set screw alone", "seated": "seated on its screw's cone"}[seat])
	}
	s.blockMove(x, y)
	s.blockPlan(side)
}

// k is the canvas itself, for strokes that no helper of a scene makes.
func (s *scene) k() *canvas { return &s.canvas }

// blockGauge draws the bridge with the indicator over the block that is read, and the dimension beside it.
func (s *scene) blockGauge(side string, x, y, face float64) {
	if side == "" {
		if s.at("datum") { // zero on the joint face, between the blocks
			s.indicator(268, face, 0, 46, 0.8)
			s.as("bridge", func() {
				s.from(238, face).v(face - 64).h(298).v(face).h(286).v(face - 46).h(250).v(face).close().draw(classBody)
				s.rect(classBody, 258, face-74, 20, 40, 0)
			})
			s.say("the indicator stands on the joint face for its zero")
		}
		return
	}
	tip := x + 24
	s.indicator(tip, y, 0, 46, 0.8)
	s.as("bridge", func() {
		s.from(x-30, face).v(y - 64).h(x + 190).v(face).h(x + 168).v(y - 42).h(x - 8).v(face).close().draw(classBody)
		s.rect(classBody, tip-10, y-74, 20, 40, 0)
	})
	s.line(classThin, x+164, y, 604, y)
	s.line(classThin, 526, face, 604, face)
	s.dim(588, y, 588, face, classFigure, "p", 614, (y+face)/2+16, Middle)
	if v := s.written("protrusion", ""); v != "" {
		s.text(classFigure, 626, 50, "p "+v, End)
	}
	s.say("the " + side + " block is read at its drawn edge, from the joint face: " + s.written("protrusion", "not known"))
}

func (s *scene) blockMove(x, y float64) {
	if x == 0 {
		return // no block is meant
	}
	switch s.n.Move {
	case "away":
		s.arrow("down", x+138, y+20, x+138, y+100, 20)
		s.say("move it down, away from the cam")
	case "towards":
		s.arrow("up", x+138, y+110, x+138, y+30, 20)
		s.say("move it up, towards the cam")
	case "grind":
		s.arrow("down", x+138, y-34, x+138, y, 14)
		s.say("grind the end that stands up, the cam side")
	}
}

// blockPlan draws the joint face from above: both mouths, both blocks, the front towards the viewer.
func (s *scene) blockPlan(side string) {
	s.as("joint face from above", func() {
		s.rect(classOutline, 20, 376, 250, 92, 14)
		for _, c := range []struct {
			name string
			x    float64
		}{{"left", 84}, {"right", 206}} {
			s.circle(classThin, c.x, 436, 26)
			on := c.name == side
			s.circle(pick(on, classLitWash, classBody), c.x, 394, 13)
			if on {
				s.circle(classTip, c.x-10, 394, 7)
			}
		}
	})
	s.front(300, 446, "down")
	s.text(classValue, 632, 400, "barrel turned over,", End)
	s.text(classValue, 632, 442, "cam side up", End)
}
