package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestDeckHeight(t *testing.T) {
	// Computed independently.
	out := figuresOf(t, "deck-height", given{"reading_1": 0.62, "arm_1": -30.0, "reading_2": 0.38, "arm_2": 30.0})
	figureNear(t, out, "deck", 0.50, 1e-12)
	figureNear(t, out, "rock", 0.229, 5e-4)
	figureNear(t, figuresOf(t, "deck-height", given{"reading_1": 0.62, "arm_1": 30.0, "reading_2": 0.38, "arm_2": -24.0}), "deck", 0.48667, 5e-6)
	refused(t, "deck-height", given{"reading_1": 0.62, "arm_1": 30.0, "reading_2": 0.38, "arm_2": 24.0}, "arm_2")
	refused(t, "deck-height", given{"reading_1": 0.62, "arm_1": 0.0, "reading_2": 0.38, "arm_2": 0.0}, "arm_2")
}

// A tilted crown, read anywhere either side of the pin, gives the height at the pin and the tilt.
func TestDeckHeightOfTiltedCrown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deck := rapid.Float64Range(-1, 2).Draw(t, "deck")
		tilt := rapid.Float64Range(-0.9, 0.9).Draw(t, "tilt") // + = falls towards + arms
		a1, a2 := -rapid.Float64Range(5, 35).Draw(t, "a1"), rapid.Float64Range(5, 35).Draw(t, "a2")
		at := func(a float64) float64 { return deck + a*math.Tan(tilt*math.Pi/180) }
		out, err := outOf("deck-height", given{"reading_1": at(a1), "arm_1": a1, "reading_2": at(a2), "arm_2": a2})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(out.nums["deck"]-deck) > 1e-12 || math.Abs(out.nums["rock"]+tilt) > 1e-9 {
			t.Fatalf("deck %g rock %g, built with %g and %g", out.nums["deck"], out.nums["rock"], deck, -tilt)
		}
	})
}

func TestRodWeigh(t *testing.T) {
	// Computed by hand.
	in := given{"small": 141.6, "big": 318.7, "total": 460.0}
	figureNear(t, figuresOf(t, "rod-weigh", in), "closure", 0.3, 1e-9)
	refused(t, "rod-weigh", in.with("total", 458.0), "total")
	// With a scale good to 1 g the same 2.3 g are no contradiction: four times u.
	out := figuresOf(t, "rod-weigh", in.with("total", Num{X: 458, Us: []Component{{Name: "scale", U: 1}}}))
	figureNear(t, out, "closure", 2.3, 1e-9)
}
