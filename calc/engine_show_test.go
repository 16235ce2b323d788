package calc

import (
	"testing"

	"thoud/calc/quantity"
)

// Orders are what a hand can do (common practice): whole thou and hundredths, tenths of a thou for fine work, quarters of a
// flat; what comes off is rounded down, and what is less than a step is told finer rather than as nothing.
func TestOrdersAreWhatAHandCanDo(t *testing.T) {
	for _, tc := range []struct {
		kind      quantity.Kind
		direction string
		unit      string
		x, u      float64
		mm, inch  string
	}{
		{quantity.Length, "away", "", 0.5588, 0.01, "0.56 mm", "22 thou"},
		{quantity.Length, "away", "", 0.566, 0.01, "0.57 mm", "22 thou"},
		{quantity.Length, "away", "", 0.006, 0.001, "0.01 mm", "0.2 thou"},
		{quantity.Length, "away", "", 0, 0, "0 mm", "0 thou"},
		{quantity.Length, "file", "", 0.0990, 0.01, "0.09 mm", "3 thou"}, // 3.9 thou: stay short
		{quantity.Length, "grind", "", 0.02, 0.01, "0.02 mm", "0.7 thou"},
		{quantity.Length, "hone", "", 0.0159, 0.001, "0.015 mm", "0.6 thou"},
		{quantity.Length, "fit", "", 0.7239, 0, "0.724 mm", "28.5 thou"},
		{quantity.Length, "away", "", 6.65, 0, "6.65 mm", "0.262 in"}, // longer lengths in inches, three places
		{quantity.Number, "tighten", "flats", 0.547, 0.1, "half a flat", "half a flat"},
		{quantity.Number, "tighten", "flats", 1.3, 0.1, "1¼ flats", "1¼ flats"},
		{quantity.Number, "tighten", "flats", 0.7, 0.1, "three quarters of a flat", "three quarters of a flat"},
		{quantity.Number, "tighten", "flats", 0.1, 0.1, "an eighth of a flat", "an eighth of a flat"},
		{quantity.Angle, "advance", "", 3.64, 0.1, "3.6°", "3.6°"},
		{quantity.Angle, "advance", "", 3.64, 0.5, "3.5°", "3.5°"}, // read by eye
		{quantity.Angle, "advance", "", 396, 0.1, "1 turn and 36°", "1 turn and 36°"},
		{quantity.Mass, "remove", "", 12.345, 0, "12.3 g", "12.3 g"},
		{quantity.Torque, "tighten", "", 24.61, 0, "24.5 N·m", "18 lbf·ft"},
	} {
		a := Adjustment{Amount: tc.x, Kind: tc.kind, Unit: tc.unit, Direction: tc.direction}
		g := Grain{U: tc.u}
		if mm, inch := showOrder(a, tc.kind, quantity.Metric, tc.x, g), showOrder(a, tc.kind, quantity.Inch, tc.x, g); mm != tc.mm || inch != tc.inch {
			t.Errorf("%s %s %g: %q and %q, want %q and %q", tc.direction, tc.kind, tc.x, mm, inch, tc.mm, tc.inch)
		}
	}
}

// A limit is shown as it was given; converted it is rounded inwards and marked.
func TestShowLimit(t *testing.T) {
	for _, tc := range []struct {
		kind     quantity.Kind
		x        float64
		lower    bool
		mm, inch string
	}{
		{quantity.Length, 1.2192, true, "1.2192 mm", "0.048 in"}, // 0.048 in, exactly
		{quantity.Length, 0.5, true, "0.5 mm", "≈ 0.0197 in"},    // 0.019685 in
		{quantity.Length, 0.5, false, "0.5 mm", "≈ 0.0196 in"},
		{quantity.Length, 0.0381, false, "0.0381 mm", "0.0015 in"},
		{quantity.Force, 16000, true, "16 kN", "≈ 3597 lbf"}, // 3596.94 lbf
		{quantity.Force, 16000, false, "16 kN", "≈ 3596 lbf"},
		{quantity.Mass, -1, true, "-1 g", "-1 g"},
		{quantity.Angle, 104.5, true, "104.5°", "104.5°"},
		{quantity.Number, 9.75, true, "9.75", "9.75"},
		{quantity.Volume, 32.4, true, "32.4 cm³", "≈ 1.98 in³"},
	} {
		if got := ShowLimit(tc.kind, tc.x, tc.lower); got != (Shown{tc.mm, tc.inch}) {
			t.Errorf("%s %g: %q and %q, want %q and %q", tc.kind, tc.x, got.MM, got.Inch, tc.mm, tc.inch)
		}
	}
	lo, hi := 1.2192, 1.3462
	if got := ShowLimits(quantity.Length, Limit{Lower: &lo, Upper: &hi}); got.Inch != "0.048 to 0.053 in" || got.MM != "1.2192 to 1.3462 mm" {
		t.Errorf("got %+v", got)
	}
}

// Both ends of a band have the same places.
func TestShowLimitsAlike(t *testing.T) {
	for _, tc := range []struct {
		kind     quantity.Kind
		lo, hi   float64
		mm, inch string
	}{
		{quantity.Length, 0.1524, 0.254, "0.1524 to 0.2540 mm", "0.006 to 0.010 in"},
		{quantity.Angle, 105, 107.5, "105.0° to 107.5°", "105.0° to 107.5°"},
		{quantity.Number, 9, 10.25, "9.00 to 10.25", "9.00 to 10.25"},
		{quantity.Force, 14000, 16000, "14 to 16 kN", "≈ 3148 to ≈ 3596 lbf"},
	} {
		if got := ShowLimits(tc.kind, Limit{Lower: &tc.lo, Upper: &tc.hi}); got != (Shown{tc.mm, tc.inch}) {
			t.Errorf("%s %g to %g: %q and %q", tc.kind, tc.lo, tc.hi, got.MM, got.Inch)
		}
	}
}

// What the engine is, is shown as it was given, whatever the screen's units.
func TestShowGiven(t *testing.T) {
	for _, s := range []string{"71 mm", "2.795 in", "285 g"} {
		v, err := quantity.Parse(s)
		if err != nil {
			t.Fatal(err)
		}
		if got := ShowGiven(v); got != (Shown{s, s}) {
			t.Errorf("%s: %+v", s, got)
		}
	}
}

// What was told, done and left are in one unit; told in whole thou, what was done is what the gauge saw.
func TestShowLike(t *testing.T) {
	if got := ShowLike(quantity.Length, 0.0455*25.4, Shown{"1.27 mm", "50 thou"}); got != (Shown{"1.16 mm", "45.5 thou"}) {
		t.Errorf("got %+v", got)
	}
	if got := ShowLike(quantity.Force, 1500, Shown{"26.0 kN", "5845 lbf"}); got != (Shown{"1.5 kN", "337 lbf"}) {
		t.Errorf("got %+v", got)
	}
}

// An angle from a dead centre is told by no sign. The signs are those of the methods' own figures.
func TestAngleFromTheTopIsToldInWords(t *testing.T) {
	for _, tc := range []struct {
		from origin
		x    float64
		want string
	}{
		{origin{After, theTop}, -4.65, "4.7° before the top"}, {origin{After, theTop}, 12, "12.0° after the top"}, {origin{After, theTop}, 0.01, "the top"},
		{origin{Before, theTop}, -3, "3.0° after the top"}, {origin{After, theBottom}, 61.2, "61.2° after the bottom"}, {origin{Before, theBottom}, 60, "60.0° before the bottom"},
	} {
		m := Method{Figures: []Figure{{Name: "at", Kind: quantity.Angle}}}
		out := &Out{method: &m, nums: map[string]float64{}}
		out.Set("at", tc.x)
		out.From("at", tc.from.way, tc.from.centre)
		fr, _ := figureResult(m.Figures[0], out, propagation{}, Request{})
		if fr.Shown.MM != tc.want || fr.Shown.Inch != tc.want || *fr.Value != tc.x {
			t.Errorf("%g: %+v, want %q", tc.x, fr.Shown, tc.want)
		}
	}
}
