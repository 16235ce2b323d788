package sheet

import (
	"slices"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"

	"pgregory.net/rapid"
)

// The picture must say what the verdict says: the whole bar inside the thick band exactly where ISO 14253-1 lets one say
// "in", all of it outside where it lets one say "out". Values at the edge of the drawing are drawn there, never beyond.
func TestTheMarkSaysWhatTheVerdictSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		micrometres := func(name string, lo, hi int) float64 { return float64(rapid.IntRange(lo, hi).Draw(t, name)) / 1000 }
		l := calc.Limit{}
		kind := rapid.SampledFrom([]string{"both", "lower", "upper"}).Draw(t, "limits")
		low := micrometres("lower", -500, 500)
		high := low + micrometres("width", 1, 1000)
		if kind != "upper" {
			l.Lower = &low
		}
		if kind != "lower" {
			l.Upper = &high
		}
		x, u := micrometres("value", -2000, 2000), micrometres("U", 0, 300)
		line := limit("f", quantity.Length, l)
		r, ok := rule(Figure{Value: &x, U: u, Limit: &line})
		if !ok {
			t.Fatal("no mark for a figure with a limit")
		}
		for _, v := range []float64{r.At, r.Low, r.High} {
			if v < 0 || v > 1 {
				t.Fatalf("drawn off the line: %+v", r)
			}
		}
		if r.Low > r.At || r.At > r.High {
			t.Fatalf("the pointer is outside its own bar: %+v", r)
		}
		const hair = 1e-9
		in := r.Low >= r.BandLow-hair && r.High <= r.BandHigh+hair
		out := r.High < r.BandLow-hair || r.Low > r.BandHigh+hair
		switch v := calc.Decide(quantity.Length, x, u, l, 1); {
		case v == calc.VerdictIn && !in, v == calc.VerdictOut && !out, v == calc.VerdictTooClose && (in || out):
			t.Fatalf("%g ± %g against %+v is %q, drawn as %+v", x, u, line.Shown, v, r)
		}
	})
	if _, ok := rule(Figure{Value: new(float64)}); ok {
		t.Error("a mark for a figure without a limit")
	}
}

func TestWhatIsNotSettled(t *testing.T) {
	out := Mark{By: "K.B."}
	s := Sheet{
		Tally: Tally{
			Items: []Item{{Name: "mouth cover", Count: 2, Step: "covers"}, {Name: "stop", Count: 1, Step: "stop", Out: &out}},
			Loose: []Loose{{Name: "cam nut", Step: "cam", Ends: "key"}},
		},
		Data: []Datum{{Title: "bore", Source: "common practice", Open: true}, {Title: "stroke"}},
		Steps: []Step{
			{Number: 1, Title: "a", Progress: bench.SignedOff}, {Number: 2, Title: "b", Progress: bench.Stale}, {Number: 3, Title: "c", Progress: bench.Begun},
			{Number: 4, Title: "d", Progress: bench.Done, Hold: true}, {Number: 5, Title: "e", Progress: bench.Done},
			{Number: 6, Title: "f", Progress: bench.Measured, Verdict: calc.VerdictOut}, {Number: 7, Title: "g", Progress: bench.Measured, Verdict: calc.VerdictTooClose},
		},
	}
	want := []string{"still in the engine: mouth cover (2), put in at covers", "left loose: cam nut, since cam; made fast at key", "not confirmed: bore, common practice",
		"step 2, b: reopened, and not done again", "step 3, c: begun", "step 4, d: a hold point that is not signed", "step 6, f: out of its limits", "step 7, g: too close to call"}
	if got := open(s); !slices.Equal(got, want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

func TestNumbersKeepTheirDigits(t *testing.T) {
	in, err := quantity.Parse("0.0005 in")
	if err != nil {
		t.Fatal(err)
	}
	mm, err := quantity.Parse("0.01 mm")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		got      calc.Shown
		mm, inch string
	}{
		{shownValue(in), "0.013 mm", "0.0005 in"}, // 0.0001 in is 0.00254 mm: three places are no finer
		{shownValue(mm), "0.01 mm", "0.0004 in"},  // 0.01 mm is 0.00039 in: four places
		{shownNumber(quantity.Length, 1.2192), "1.2192 mm", "0.048 in"},
		{shownNumber(quantity.Length, 0.5), "0.5 mm", "0.01969 in"},
		{shownNumber(quantity.Force, 20000), "20000 N", "4496.18 lbf"}, // 1 lbf = 4.4482216152605 N
		{shownNumber(quantity.Angle, 105), "105°", "105°"},
		{shownNumber(quantity.Length, 0), "0 mm", "0 in"},
		{shownPlaces(quantity.Length, -0.00001, calc.Shown{MM: "0.014 mm", Inch: "0.0005 in"}), "0.000 mm", "0.0000 in"},
	} {
		if tt.got.MM != tt.mm || tt.got.Inch != tt.inch {
			t.Errorf("got %+v, want %s and %s", tt.got, tt.mm, tt.inch)
		}
	}
}
