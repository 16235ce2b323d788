package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// boltInputs are what every method about a bolt's stretch needs: its material and its sections in series.
func boltInputs() []Input {
	return []Input{
		{Name: "modulus", Kind: quantity.Stress, Positive: true, Doc: "modulus of elasticity of the bolt"},
		{Name: "segments", Shape: Records, Doc: "the lengths of the bolt that stretch, in any order", Fields: []Input{
			{Name: "length", Kind: quantity.Length, Positive: true, Doc: "length of this section"},
			{Name: "diameter", Kind: quantity.Length, Positive: true, Optional: true, Doc: "plain diameter, or"},
			{Name: "thread", Shape: Text, Optional: true, Doc: "its thread, taken at the stress area"},
		}},
	}
}

// clampedInputs are the clamped parts under a bolt.
func clampedInputs() []Input {
	return []Input{
		{Name: "length", Kind: quantity.Length, Positive: true, Doc: "grip: thickness of what is clamped"},
		{Name: "modulus", Kind: quantity.Stress, Positive: true, Doc: "its modulus of elasticity"},
		{Name: "area", Kind: quantity.Area, Positive: true, Doc: "area that is pressed"},
	}
}

// bolt is a row of sections: compliance δ = Σ L/(E·A) in mm/N, and the smallest section, which governs.
type bolt struct {
	compliance float64
	area       float64
	threadArea float64 // stress area of the smallest threaded section, 0 where there is none
	governing  string
}

func readBolt(in Args) (bolt, error) {
	segments := in.Recs("segments")
	if len(segments) == 0 {
		return bolt{}, Refuse("segments", "give length and diameter or thread of each section", "no sections")
	}
	b := bolt{area: math.Inf(1)}
	for i, s := range segments {
		area, name, err := section(s, i)
		if err != nil {
			return bolt{}, err
		}
		b.compliance += s.Num("length") / (in.Num("modulus") * area)
		if area < b.area {
			b.area, b.governing = area, name
		}
		if s.Has("thread") && (b.threadArea == 0 || area < b.threadArea) {
			b.threadArea = area
		}
	}
	return b, nil
}

// section is one segment's area and what to call it.
func section(s Args, i int) (area float64, name string, err error) {
	field := fmt.Sprintf("segments[%d]", i)
	switch {
	case s.Has("diameter") == s.Has("thread"):
		return 0, "", Refuse(field, "give diameter or thread, one of the two", "it has both or neither")
	case s.Has("thread"):
		t, err := parseThread(field+".thread", s.Text("thread"))
		if err != nil {
			return 0, "", err
		}
		return t.stressArea(), fmt.Sprintf("section %d, the thread %s", i+1, s.Text("thread")), nil
	}
	d := s.Num("diameter")
	return math.Pi / 4 * d * d, fmt.Sprintf("section %d, the plain length", i+1), nil
}

// clampedCompliance is L/(E·A) of the clamped parts.
func clampedCompliance(c Args) float64 {
	return c.Num("length") / (c.Num("modulus") * c.Num("area"))
}

func boltCautions() []string {
	return []string{
		"Tighten smoothly, pull and do not push. A bolt at its limit can break under the hand: glasses on.",
		"Never use a bolt again that has grown. Use the maker's figures where there are any.",
	}
}
