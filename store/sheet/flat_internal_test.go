package sheet

import (
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
)

// A chart that is pressed flat keeps its numbers off its frame and off the name of its scale: letters of 18 units reach about
// 13 above their line and 4 below, those of the title 15 above (common practice of the common typefaces: capitals of 0.72, tails
// of 0.21). One that is round is not pressed at all.
func TestAFlatChartKeepsItsLettersApart(t *testing.T) {
	const title, ceiling, frame, numbers, name = 26, 44, 420 - 56, 420 - 56 + 18, 420 - 14
	flat := chosenChart{Step: Step{Method: "valve-to-piston"}}.press()
	if gap := pressed(title, flat); gap < 15 {
		t.Errorf("the title stands %.1f units below the edge, want 15", gap)
	}
	if gap := pressed(ceiling, flat) - pressed(title, flat); gap < 4 {
		t.Errorf("the title stands %.1f units above the frame, want 4", gap)
	}
	if gap := pressed(numbers, flat) - pressed(frame, flat); gap < 13 {
		t.Errorf("the numbers stand %.1f units below the frame, want 13", gap)
	}
	if gap := pressed(name, flat) - pressed(numbers, flat); gap < 17 {
		t.Errorf("the name of the scale stands %.1f units below the numbers, want 17", gap)
	}
	if pressed(frame, flat) > 0.6*frame {
		t.Error("the chart is not flat")
	}
	if round := (chosenChart{Step: Step{Method: "runout"}}).press(); pressed(420, round) != 420 {
		t.Error("a round chart is pressed")
	}
}

// A chart beside the drawings of a group ends above what follows it, round or flat.
func TestWhatFollowsAChartBesideDrawingsIsBelowIt(t *testing.T) {
	for _, method := range []string{"runout", "valve-to-piston"} {
		p, err := newPDFWriter(Sheet{Job: "17"}, Options{System: quantity.Inch})
		if err != nil {
			t.Fatal(err)
		}
		p.pdf.SetY(40)
		c := chosenChart{Step: Step{Method: method, Title: "Crankshaft runout"}, SVG: `<svg viewBox="0 0 720 420"></svg>`}
		if !p.drawings(group{part: part{Drawings: []string{"crank-runout"}}, Steps: []Step{{Number: 2, ID: "crank-runout", Title: "Crankshaft runout", Runs: []Run{{Key: "left"}}}}}, []chosenChart{c}) {
			t.Fatal("no chart beside the drawings")
		}
		if at, foot := p.pdf.GetY(), 40+c.height(68); at < foot {
			t.Errorf("%s: the chart ends at %.1f mm, what follows begins at %.1f", method, foot, at)
		}
		if err := p.pdf.Error(); err != nil {
			t.Error(err)
		}
	}
}

// Where no line of a part fits, its number is not called more.
func TestNoneIsNotMore(t *testing.T) {
	for _, c := range []struct {
		none bool
		want string
	}{{true, "6, in the record"}, {false, "and 6 more, in the record"}} {
		if got := andMore(6, c.none, Options{}); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// The parts of an engine are weighed in grams, in inches too (common practice of balancing); what was given or weighed in
// ounces stands as it was. 1 oz = 28.349523125 g (the avoirdupois ounce of the pound agreement of 1959).
func TestMassesInInches(t *testing.T) {
	given, err := quantity.ParseAs(quantity.Mass, "5.25 oz")
	if err != nil {
		t.Fatal(err)
	}
	least := 28.349523125
	for _, c := range []struct{ what, got, want string }{
		{"a datum", in(calc.ShowGiven(given), quantity.Inch), "5.25 oz"},
		{"a reading", in(calc.ShowReading(given), quantity.Inch), "5.25 oz"},
		{"a figure", in(calc.ShowFigure(quantity.Mass, given.Float(), calc.Grain{Step: 0.01}), quantity.Inch), "148.83 g"},
		{"a limit", in(calc.ShowLimits(quantity.Mass, calc.Limit{Lower: &least}), quantity.Inch), "at least ≈ 28.4 g"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.what, c.got, c.want)
		}
	}
}
