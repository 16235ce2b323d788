package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// coilSpring is one helical compression spring as far as it is known. Lengths in mm, forces in N.
type coilSpring struct {
	name               string
	rate               float64
	rateFrom           string  // what the rate was taken from
	rateOther          string  // a rate that contradicts it, in words
	index              float64 // mean coil diameter/wire, 0 unknown
	fitted             float64 // height, 0 unknown
	lengthRef, loadRef float64 // a height at which the load is known
	loadKnown          bool
	solid              float64 // 0 unknown
	leastGaps          float64 // sum of gaps by EN 13906-1, 0 unknown
}

func springInputs() []Input {
	length := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Length, Optional: true, Positive: true, Doc: doc}
	}
	force := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Force, Optional: true, Positive: true, Doc: doc}
	}
	return []Input{
		{Name: "name", Shape: Text, Optional: true, Doc: "which spring of the nest"},
		length("wire", "diameter of the wire, bare of paint"),
		length("outside", "outside diameter of the coils"),
		{Name: "active_coils", Kind: quantity.Number, Optional: true, Positive: true, Doc: "coils that work, without the dead ones at the ends"},
		{Name: "total_coils", Kind: quantity.Number, Optional: true, Positive: true, Doc: "all coils, ends ground flat"},
		{Name: "modulus", Kind: quantity.Stress, Optional: true, Positive: true, Doc: "shear modulus (81 500 N/mm² drawn wire, 79 500 oil-tempered)"},
		{Name: "rate", Kind: quantity.Stiffness, Optional: true, Positive: true, Doc: "rate, where it is known"},
		length("free", "free length"),
		length("fitted", "height with the valve shut"),
		length("solid", "height with all coils touching; total coils × wire where not given"),
		force("load_1", "load measured"), length("at_1", "height at load_1"),
		force("load_2", "another load, for the rate"), length("at_2", "height at load_2"),
	}
}

// springOf reads one spring. It refuses one whose rate cannot be had, and heights and loads that contradict it.
func springOf(in Args, i int) (coilSpring, error) {
	s := coilSpring{name: in.TextOr("name", fmt.Sprintf("spring %d", i+1)), fitted: in.Num("fitted"), solid: in.Num("solid")}
	field := func(name string) string { return fmt.Sprintf("springs[%d].%s", i, name) }
	if s.solid == 0 && in.Has("total_coils") && in.Has("wire") {
		s.solid = in.Num("total_coils") * in.Num("wire")
	}
	for _, n := range []string{"1", "2"} {
		if in.Has("load_"+n) != in.Has("at_"+n) {
			return s, Refuse(field("at_"+n), "give each load with the height it was measured at", "load_%s and at_%s go together", n, n)
		}
	}
	if err := s.setRate(in, field); err != nil {
		return s, err
	}
	switch {
	case in.Has("load_1"):
		s.lengthRef, s.loadRef, s.loadKnown = in.Num("at_1"), in.Num("load_1"), true
	case in.Has("load_2"):
		s.lengthRef, s.loadRef, s.loadKnown = in.Num("at_2"), in.Num("load_2"), true
	case in.Has("free"):
		s.lengthRef, s.loadKnown = in.Num("free"), true
	}
	if s.fitted > 0 && s.loadKnown && s.load(s.fitted) <= 0 {
		return s, Refuse(field("fitted"), "check fitted and free length: the spring would be loose", "%.3f mm leaves no load", s.fitted)
	}
	if s.fitted > 0 && s.solid >= s.fitted {
		return s, Refuse(field("solid"), "check it, or the coils and the wire", "%.3f mm is not under the fitted height of %.3f mm", s.solid, s.fitted)
	}
	return s, nil
}

func (s coilSpring) load(height float64) float64 { return s.loadRef + s.rate*(s.lengthRef-height) }

// setRate takes the rate given, else that of two loads, else that of the wire: k = G·d⁴/(8·D³·n), D = outside − d
// (EN 13906-1). Where the next one is known too and differs by over 5 % that is kept for a warning.
func (s *coilSpring) setRate(in Args, field func(string) string) error {
	wire, outside := in.Num("wire"), in.Num("outside")
	if in.Has("wire") && in.Has("outside") {
		if outside-wire < 2*wire {
			return Refuse(field("outside"), "measure over the coils", "%.3f mm over coils of %.3f mm wire cannot be wound", outside, wire)
		}
		s.index = (outside - wire) / wire
	}
	type known struct {
		rate float64
		from string
	}
	var rates []known
	if in.Has("rate") {
		rates = append(rates, known{in.Num("rate"), "the rate given"})
	}
	if in.Has("load_1") && in.Has("load_2") {
		k := (in.Num("load_2") - in.Num("load_1")) / (in.Num("at_1") - in.Num("at_2"))
		if !finite(k) || k <= 0 {
			return Refuse(field("load_2"), "measure two heights well apart; the shorter has the greater load", "%.1f N at %.3f mm and %.1f N at %.3f mm give no rate", in.Num("load_1"), in.Num("at_1"), in.Num("load_2"), in.Num("at_2"))
		}
		rates = append(rates, known{k, "the two loads"})
	}
	missing := ""
	for _, name := range []string{"wire", "outside", "active_coils", "modulus"} {
		if !in.Has(name) {
			missing = name
		}
	}
	if missing == "" {
		d, n := outside-wire, in.Num("active_coils")
		if t := in.Num("total_coils"); t > 0 && n > t {
			return Refuse(field("active_coils"), "count again: the ends do not work", "%g of %g coils", n, t)
		}
		rates = append(rates, known{in.Num("modulus") * math.Pow(wire, 4) / (8 * d * d * d * n), "the wire"})
		s.leastGaps = 1.5 * n * (0.0015*d*d/wire + 0.1*wire)
	}
	if len(rates) == 0 {
		return Refuse(field(missing), "give the rate, two loads with their heights, or wire, outside, active_coils and modulus", "the rate cannot be had without it")
	}
	s.rate, s.rateFrom = rates[0].rate, rates[0].from
	for _, r := range rates[1:] {
		if math.Abs(r.rate/s.rate-1) > 0.05 {
			s.rateOther = fmt.Sprintf("%.2f N/mm by %s", r.rate, r.from)
		}
	}
	return nil
}
