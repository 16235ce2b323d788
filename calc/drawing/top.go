package drawing

import "thoud/calc/quantity"

func topRows() []Row {
	return []Row{
		{
			Name: "deck", draw: deckHeight,
			Says:   "Cylinder cut along front and rear, piston at the top: the indicator stands on a bridge over the joint face and reads the crown",
			Jobs:   []string{"deck", "deck-proof"},
			Live:   "deck",
			Drives: []Drive{{Name: "deck", Kind: quantity.Length, Least: 0, Usual: 0.03 * inch, Most: 0.12 * inch, Says: "how far the crown stands below the joint face"}, {Name: "arm", Kind: quantity.Length, Least: -40, Usual: 25, Most: 40, Says: "from the pin's axis to the tip; its size counts, the point says front or rear"}},
			Lights: []string{"left.front", "right.rear", "datum"},
		},
	}
}

// deckHeight: the crown stands 900 units an inch below the joint face y = 206, at least 12 so that it is seen.
func deckHeight(s *scene) {
	const face = 206
	y := face + max(12, 900/inch*s.num("deck"))
	arm := 3.2 * max(10, abs(s.num("arm")))
	x := 320 - arm // front
	if s.at("rear") {
		x = 320 + arm
	}
	read := s.at("front", "rear")
	s.as("barrel", func() {
		for _, m := range []float64{-1, 1} {
			xx := func(v float64) float64 { return 320 + m*v }
			t := s.from(xx(142), face).h(xx(200))
			for q := 240.0; q < 430; q += 50 {
				t.v(q).h(xx(232)).v(q + 14).h(xx(200))
			}
			t.v(476).h(xx(142)).close().cut(rising)
		}
	})
	s.as("piston", func() {
		s.rect(classBody, 184, y, 272, 476-y, 0)
		if read {
			s.line(classLit, 184, y, 456, y)
		}
		for _, q := range []float64{22, 42, 64} {
			s.rect(classThin, 184, y+q, 272, 9, 0)
		}
		s.circle(classOutline, 320, y+148, 38)
		s.line(classAxis, 250, y+148, 390, y+148)
	})
	s.line(classAxis, 320, 108, 320, 478)
	if s.at("datum") {
		x = 140
	}
	s.as("bridge", func() { s.rect(classBody, 100, face-40, 440, 34, 4) })
	tipY := y
	if s.at("datum") {
		tipY = face
		s.say("the indicator stands on the joint face for its zero")
	}
	s.indicator(x, tipY, 0, 58, 0.7)
	s.as("bridge", func() { s.rect(classBody, x-14, face-50, 28, 52, 0) })
	if read {
		other := 640 - x
		s.line(classOther, other, y-8, other, 96)
		s.dim(320, y+100, x, y+100, classNote, s.written("arm", "arm"), (320+x)/2, y+90, Middle)
		s.line(classThin, x, y+8, x, y+112)
		s.say("the tip stands " + map[bool]string{true: "behind", false: "in front of"}[s.at("rear")] + " the pin")
	}
	s.line(classThin, 24, face, 116, face)
	s.line(classThin, 24, y, 180, y)
	s.dim(40, face, 40, y, classNote, "deck", 20, 150, Start)
	if !s.at("datum") {
		s.text(classFigure, 20, 52, s.written("deck", ""), Start)
	}
	s.text(classNote, 52, 474, "front", Middle)
	s.text(classNote, 590, 474, "rear", Middle)
	if side := s.side(); side != "" {
		s.text(className, 620, 52, side, End)
	}
	s.say("deck " + s.written("deck", "not known"))
}

func abs(v float64) float64 {
	if v < 0 {
		return -v
	}
	return v
}
