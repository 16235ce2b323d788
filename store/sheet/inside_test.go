package sheet

import (
	"slices"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"

	"pgregory.net/rapid"
)

// The picture must say what the verdict says: the whole line of the uncertainty between the brackets exactly where ISO 14253-1 lets one say
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
		lim := limit("f", quantity.Length, l)
		r, ok := line{Figures: []runFigure{{"", Figure{Value: &x, U: u, Limit: &lim}}}}.rule()
		if !ok {
			t.Fatal("no mark for a figure with a limit")
		}
		b := r.Bars[0]
		for _, v := range []float64{b.At, b.From, b.To, r.Low, r.High} {
			if v < 0 || v > 1 {
				t.Fatalf("drawn off the line: %+v", r)
			}
		}
		if b.From > b.At || b.At > b.To {
			t.Fatalf("the figure is outside its own uncertainty: %+v", r)
		}
		const hair = 1e-9
		if r.HasLow != (l.Lower != nil) || r.HasHigh != (l.Upper != nil) {
			t.Fatalf("brackets %+v for the limits %+v", r, l)
		}
		in := (!r.HasLow || b.From >= r.Low-hair) && (!r.HasHigh || b.To <= r.High+hair)
		out := r.HasLow && b.To < r.Low-hair || r.HasHigh && b.From > r.High+hair
		switch v := calc.Decide(quantity.Length, x, u, l, 1); {
		case v == calc.VerdictIn && !in, v == calc.VerdictOut && !out, v == calc.VerdictTooClose && (in || out):
			t.Fatalf("%g ± %g against %+v is %q, drawn as %+v", x, u, lim.Shown, v, r)
		}
	})
	if _, ok := (line{Figures: []runFigure{{"", Figure{Value: new(float64)}}}}).rule(); ok {
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
		{calc.ShowReading(in), "0.013 mm", "0.0005 in"}, // 0.0001 in is 0.00254 mm: three places are no finer
		{calc.ShowReading(mm), "0.01 mm", "0.0004 in"},  // 0.01 mm is 0.00039 in: four places
		{calc.ShowLike(quantity.Length, -0.00001, calc.Shown{MM: "0.014 mm", Inch: "0.0005 in"}), "0.000 mm", "0.0000 in"},
	} {
		if tt.got.MM != tt.mm || tt.got.Inch != tt.inch {
			t.Errorf("got %+v, want %s and %s", tt.got, tt.mm, tt.inch)
		}
	}
}

func TestAMinusBeforeANumberIsOne(t *testing.T) {
	for text, want := range map[string]string{
		"-0.0030 to 0.0015 in": "−0.0030 to 0.0015 in", "0.1 / -0.2 in": "0.1 / −0.2 in", "(-3)": "(−3)",
		"dial-1": "dial-1", "2026-11-26": "2026-11-26", "usb 0403-6001": "usb 0403-6001", "left - right": "left - right",
	} {
		if got := minus(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
}

func TestEveryStepHasItsPart(t *testing.T) {
	for id, want := range map[string]string{
		"cam-bush": "Bottom end", "end-float": "Bottom end", "weights": "Bottom end", "rod-bearings": "Bottom end", "cases-closed": "Bottom end",
		"bores": "Barrels and pistons", "rings": "Barrels and pistons", "deck-proof": "Barrels and pistons", "wash-barrels": "Barrels and pistons", "compression": "Barrels and pistons",
		"block-contact": "Guide blocks, camshaft and timing", "cam-proof": "Guide blocks, camshaft and timing", "tdc": "Guide blocks, camshaft and timing", "ignition": "Guide blocks, camshaft and timing",
		"valve-to-piston": "Head and valves", "inlet-to-piston-left": "Head and valves", "springs": "Head and valves", "lash-again": "Head and valves", "head-on": "Head and valves",
		"base-bolts": "Bolts", "head-bolts": "Bolts", "retorque": "Bolts", "something-else": "Other work",
	} {
		if got := parts[partOf(id)].Name; got != want {
			t.Errorf("%s belongs to %q, want %q", id, got, want)
		}
	}
}

func TestWhatWasSignedAlthoughNotInIsSaid(t *testing.T) {
	by := Mark{By: "K.B."}
	s := Sheet{Steps: []Step{
		{Number: 1, Title: "a", Verdict: calc.VerdictIn, Signed: &by}, {Number: 2, Title: "b", Verdict: calc.VerdictOut, Signed: &by},
		{Number: 3, Title: "c", Verdict: calc.VerdictTooClose, Signed: &by}, {Number: 4, Title: "d", Verdict: calc.VerdictOut},
	}}
	var got []string
	for _, w := range wordsOf(s, Options{}) {
		if w.Heading == "Signed although not in" {
			got = w.Lines
		}
	}
	if want := []string{"2. b: out, signed by K.B.", "3. c: too close to call, signed by K.B."}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
