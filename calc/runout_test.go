package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func eighths() []float64 { return []float64{0, 45, 90, 135, 180, 225, 270, 315} }

func TestRunoutEightReadings(t *testing.T) {
	// Computed independently (least squares in another program).
	out := figuresOf(t, "runout", given{
		"angle": eighths(), "reading": []float64{0.0, 0.012, 0.021, 0.022, 0.014, 0.003, -0.007, -0.008},
	})
	figureNear(t, out, "total_reading", 0.030, 1e-12)
	figureNear(t, out, "eccentricity", 0.01565, 5e-6)
	figureNear(t, out, "high_point", 117.43, 5e-3)
	figureNear(t, out, "reading_from_eccentricity", 0.0313, 1e-5)
}

// The shaft is a disc whose centre stands off the axis; the indicator looks along a fixed line. Following the words
// (turn the high point under the indicator, move the disc away from it by the amount) must leave it true.
func TestRunoutTapReachesTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.Float64Range(0.001, 0.5).Draw(t, "e")
		at := rapid.Float64Range(0, 360).Draw(t, "at")
		x, y := e*math.Cos(at*math.Pi/180), e*math.Sin(at*math.Pi/180) // centre, in the shaft's own frame
		read := func() []float64 {
			var r []float64
			for _, a := range eighths() {
				// With the shaft turned to a, its own direction a points to the indicator.
				r = append(r, x*math.Cos(a*math.Pi/180)+y*math.Sin(a*math.Pi/180))
			}
			return r
		}
		out, err := outOf("runout", given{"angle": eighths(), "reading": read()})
		if err != nil {
			t.Fatal(err)
		}
		adj := out.adjustments[0]
		if adj.Direction != "away_from_the_indicator" {
			t.Fatalf("direction %q, want away from the indicator", adj.Direction)
		}
		high := out.nums["high_point"] * math.Pi / 180
		x -= adj.Amount * math.Cos(high)
		y -= adj.Amount * math.Sin(high)
		if left := math.Hypot(x, y); left > 1e-12 {
			t.Fatalf("after the tap the shaft is still %.3g mm out", left)
		}
	})
}

// An oval journal on its true axis reads form, not eccentricity; its ovality is the difference of diameters.
func TestRunoutOvalJournal(t *testing.T) {
	var r []float64
	for _, a := range eighths() {
		r = append(r, 0.01*math.Cos(2*(a-20)*math.Pi/180)) // radius 0.01 more and less: diameters 0.02 apart twice over
	}
	out := figuresOf(t, "runout", given{"angle": eighths(), "reading": r})
	figureNear(t, out, "eccentricity", 0, 1e-12)
	figureNear(t, out, "ovality", 0.04, 1e-12)
	if len(out.warnings) == 0 {
		t.Error("an oval journal gave no warning")
	}
}

// Turning the disc of the angle wheel shifts the high point and nothing else; a scale of units scales all lengths.
func TestRunoutZeroOfAngleAndUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SliceOfN(rapid.Float64Range(-0.1, 0.1), 8, 8).Draw(t, "r")
		shift := rapid.Float64Range(-720, 720).Draw(t, "shift")
		a, err := outOf("runout", given{"angle": eighths(), "reading": r})
		if err != nil {
			t.Fatal(err)
		}
		if a.nums["eccentricity"] < 1e-4 {
			t.Skip("no high point to speak of")
		}
		_, told := a.nums["high_point"]
		angle, scaled := eighths(), make([]float64, 8)
		for i := range angle {
			angle[i] += shift
			scaled[i] = r[i] * 25.4
		}
		b, err := outOf("runout", given{"angle": angle, "reading": scaled})
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range []string{"total_reading", "eccentricity", "ovality"} {
			if d := math.Abs(b.nums[f] - 25.4*a.nums[f]); d > 1e-9 {
				t.Fatalf("%s: %g and %g", f, a.nums[f], b.nums[f])
			}
		}
		if _, again := b.nums["high_point"]; !told || !again {
			return // not told from round running
		}
		if d := math.Abs(nearest(b.nums["high_point"]-a.nums["high_point"]-shift, 0, 360)); d > 1e-6 {
			t.Fatalf("high point moved by %g more than the wheel", d)
		}
	})
}

func TestRunoutRefuses(t *testing.T) {
	r := []float64{1, 2, 3, 4, 5, 6, 7, 8}
	refused(t, "runout", given{"angle": []float64{}, "reading": r}, "angle")
	refused(t, "runout", given{"angle": eighths(), "reading": r[:7]}, "angle")
	refused(t, "runout", given{"angle": []float64{0, 20, 40, 60, 80, 100, 120, 140}, "reading": r}, "angle")
	refused(t, "runout", given{"angle": []float64{0, 90, 180, 270}, "reading": r[:4]}, "angle")
	refused(t, "runout", given{"angle": []float64{0, 0.5, 90, 180, 270}, "reading": r[:5]}, "angle") // ovality rests on half a degree
	refused(t, "runout", given{"angle": []float64{0, 360, 90, 180, 270}, "reading": r[:5]}, "angle") // four places, one of them twice
	// A coverage of 270° is accepted, said so, and still gives the centre: 0…270 in steps of 30.
	var angle, reading []float64
	for a := 0.0; a <= 270; a += 30 {
		angle = append(angle, a)
		reading = append(reading, 0.02*math.Cos((a-300)*math.Pi/180))
	}
	out := figuresOf(t, "runout", given{"angle": angle, "reading": reading})
	figureNear(t, out, "eccentricity", 0.02, 1e-9)
	figureNear(t, out, "high_point", 300, 1e-6)
	if len(out.warnings) == 0 {
		t.Error("a gap of 90° gave no warning")
	}
}

func BenchmarkRunout(b *testing.B) {
	var angle, reading []float64
	for a := 0.0; a < 360; a += 10 {
		angle = append(angle, a)
		reading = append(reading, 0.02*math.Cos((a-130)*math.Pi/180))
	}
	in := given{"angle": angle, "reading": reading}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := outOf("runout", in); err != nil {
			b.Fatal(err)
		}
	}
}

// What was not reached is judged by how much it amplifies. Computed independently, no published example: readings every
// 25° from 0 to 250°, made with 18 µm at 140°.
func TestRunoutUnreachableSector(t *testing.T) {
	var angle []float64
	for a := 0.0; a <= 250; a += 25 {
		angle = append(angle, a)
	}
	reading := []float64{-0.013, -0.005, 0.003, 0.008, 0.012, 0.014, 0.015, 0.015, 0.011, 0.004, -0.004}
	out := figuresOf(t, "runout", given{"angle": angle, "reading": reading})
	figureNear(t, out, "eccentricity", 0.01746, 5e-6)
	figureNear(t, out, "high_point", 140.4, 0.05)
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "110° were not read") || !strings.Contains(all, "1.8 times") {
		t.Errorf("warnings %q, want the gap of 110° and γ 1.78", out.warnings)
	}
	b, err := harmonicBasisWithin(singular, angle, 1, 2)
	if err != nil || math.Abs(b.amplification(0)-1.78) > 0.005 {
		t.Errorf("γ = %.4f (%v), want 1.78", b.amplification(0), err)
	}
}

// The amplification for gaps of a width, readings every 10° to 30° (computed independently, no published example).
func TestRunoutAmplification(t *testing.T) {
	gamma := func(gap, step float64, orders ...float64) float64 {
		var angle []float64
		for a := 0.0; a <= 360-gap+1e-9; a += step {
			angle = append(angle, a)
		}
		b, err := harmonicBasisWithin(1e9, angle, orders...)
		if err != nil {
			t.Fatal(err)
		}
		return b.amplification(0)
	}
	for _, c := range []struct {
		gap, low, high float64
		orders         []float64
	}{{90, 1.3, 1.6, []float64{1, 2}}, {110, 1.8, 2.3, []float64{1, 2}}, {120, 2.0, 2.5, []float64{1, 2}}, {150, 3.4, 4.4, []float64{1, 2}}, {180, 1.9, 2.1, []float64{1}}} {
		for _, step := range []float64{10, 15, 30} {
			if math.Mod(360-c.gap, step) != 0 {
				continue
			}
			if g := gamma(c.gap, step, c.orders...); g < c.low-0.05 || g > c.high+0.05 {
				t.Errorf("gap %g°, steps of %g°, orders %v: γ %.3f, want %g to %g", c.gap, step, c.orders, g, c.low, c.high)
			}
		}
	}
	for _, n := range []int{5, 8, 36} {
		if g := gamma(360/float64(n), 360/float64(n), 1, 2); math.Abs(g-1) > 1e-9 {
			t.Errorf("%d readings evenly round the turn: γ %g, want 1", n, g)
		}
	}
}

// Half a turn is enough for the eccentricity where nothing is asked of the form.
func TestRunoutWithoutOvality(t *testing.T) {
	no := false
	vals := func(angle, reading []float64) map[string]Val {
		v := given{"angle": angle, "reading": reading}.vals()
		v["oval"] = Val{Flag: &no}
		return v
	}
	var angle, reading []float64
	for a := 0.0; a <= 180; a += 20 {
		angle = append(angle, a)
		reading = append(reading, 0.02*math.Cos((a-100)*math.Pi/180))
	}
	refused(t, "runout", given{"angle": angle, "reading": reading}, "angle")
	res := mustRun(t, Request{Method: "runout", Inputs: vals(angle, reading)})
	near(t, "eccentricity", value(t, res, "eccentricity"), 0.02, 1e-12)
	near(t, "high point", value(t, res, "high_point"), 100, 1e-9)
	if _, ok := res.Figure("ovality"); ok {
		t.Error("ovality was given although it was not fitted")
	}
	if res, err := Run(Request{Method: "runout", Inputs: vals(angle[:6], reading[:6])}); err != nil || res.Refused == "" {
		t.Errorf("100° of the turn: %+v, %v, want a refusal", res, err)
	}
	// Four places are enough without ovality, and not with it.
	res = mustRun(t, Request{Method: "runout", Inputs: vals([]float64{0, 90, 180, 270}, []float64{1, 0, -1, 0})})
	near(t, "four places", value(t, res, "eccentricity"), 1, 1e-12)
	_, err := outOf("runout", given{"angle": []float64{0, 90, 180, 270, 360, 450}, "reading": []float64{1, 0, -1, 0, 1, 0}})
	if err == nil {
		t.Error("four places with ovality were answered")
	}
	_, err = outOf("runout", given{"angle": []float64{0, 90, 180, 270, 180.02, 450.02}, "reading": []float64{1, 0, -1, 0, 1, 0}})
	if err == nil || !strings.Contains(err.Error(), "oval: false") {
		t.Errorf("%v, want a refusal that names oval: false", err)
	}
}
