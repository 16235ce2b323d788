package bench_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

const seating = head + `
[[step]]
id = "height"
title = "Height"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
seatings = 3
[[step.point]]
id = "left"
[[step.point]]
id = "right"
[step.compute]
method = "statistics"
per = "point"
[step.compute.inputs]
values = ["@reading"]

[[step]]
id = "height-again"
title = "Height again"
do = "Read it."
phase = "final"
kind = "measure"
capture = { mode = "press", role = "indicator" }
setup = "0.0010 in"
[[step.point]]
id = "left"
[step.compute]
method = "statistics"
per = "point"
[step.compute.inputs]
values = ["@reading"]
`

// workshop is builds of a builder who seats with a standard deviation of sigma (in tenths of a thou): parts of many heights,
// a pass each, three seatings at two points.
func workshop(tb testing.TB, rng *rand.Rand, builds int, sigma float64) []*bench.Build {
	tb.Helper()
	p, err := plan.Parse("seating", []byte(seating))
	if err != nil {
		tb.Fatal(err)
	}
	var out []*bench.Build
	for n := range builds {
		pass := &bench.Pass{Number: 1, Status: bench.PassIsClosed}
		for _, point := range []string{"left", "right"} {
			height := 2000 + 500*rng.Float64()
			for k := 1; k <= 3; k++ {
				v, err := quantity.Make(int64(math.Round(100*(height+sigma*rng.NormFloat64()))), 6, quantity.Inch.For(quantity.Length))
				if err != nil {
					tb.Fatal(err)
				}
				pass.Readings = append(pass.Readings, bench.Taken{Reading: bench.Reading{Gauge: "dial-1", Value: v}, Point: point, Seating: k})
			}
		}
		out = append(out, &bench.Build{Started: bench.Started{Job: fmt.Sprint(n)}, Plan: p, Steps: map[string]*bench.StepState{"height": {Passes: []*bench.Pass{pass}}}})
	}
	return out
}

// seated are the seatings of builds.
func seated(builds ...*bench.Build) []bench.Seated {
	var out []bench.Seated
	for _, b := range builds {
		out = append(out, bench.Seated{Job: b.Job, Seatings: bench.SeatingsOf(b)})
	}
	return out
}

// The true scatter of the builder's hands lies within what is told in 95 % of the workshops.
func TestOwnHandsAreTrueNineteenTimesOfTwenty(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	hit := 0
	const all, sigma = 2000, 2.5
	base := quantity.Inch.For(quantity.Length).ToBase(sigma * 1e-4)
	for range all {
		hands := bench.HandsOf(seated(workshop(t, rng, 4, sigma)...))
		if len(hands) != 1 || hands[0].Scatter.Dof != 16 || hands[0].Seatings != 24 || hands[0].Sort != "statistics" || hands[0].Gauge != "dial-1" {
			t.Fatalf("hands: %+v", hands)
		}
		if least, most := hands[0].Scatter.Between(0.95); least <= base && base <= most {
			hit++
		}
	}
	if share := float64(hit) / all; share < 0.935 || share > 0.965 {
		t.Errorf("%d of %d: %.3f", hit, all, share)
	}
}

// The own hands are offered where a step is seated once, and count only once they are taken.
func TestOwnHandsAreOfferedAndTaken(t *testing.T) {
	builds := workshop(t, rand.New(rand.NewPCG(7, 2)), 4, 2.5)
	hands := bench.HandsOf(seated(builds...))
	p := newPlay(t, seating, dial("dial-1", "indicator"))
	b, _ := p.sc.State.Build("17")
	offers := bench.HandOffers(b, hands)
	if len(offers) != 1 || offers[0].Step.ID != "height-again" || offers[0].Taken {
		t.Fatalf("offers: %+v", offers)
	}
	if words := offers[0].Words(); !strings.Contains(words, "16 repeats, dial-1); stated is 0.0010 in") {
		t.Errorf("said: %q", words)
	}
	step, _ := b.Plan.Step("height-again")
	if set := b.SetupOf(step); set.Own || set.Value.String() != "0.0010 in" {
		t.Errorf("before it is taken: %+v", set)
	}
	o := offers[0].Override()
	words := p.ok(bench.Verb{Name: bench.DoOverride, Override: &o, Reason: "my own hands"}).Words
	if !strings.Contains(words, "height-again is seated to 0.000") || !strings.Contains(words, "it was 0.0010 in; found with 16 degrees of freedom") {
		t.Errorf("said: %q", words)
	}
	b, _ = p.sc.State.Build("17")
	set := b.SetupOf(step)
	if !set.Own || set.Dof != 16 || set.Value.Float() < hands[0].Scatter.S || set.Value.Float() > 1.011*hands[0].Scatter.S {
		t.Errorf("taken: %+v, found %v", set, hands[0].Scatter.S)
	}
	if offers = bench.HandOffers(b, hands); !offers[0].Taken {
		t.Error("offered again")
	}
	if few := bench.HandOffers(b, bench.HandsOf(seated(builds[0]))); len(few) != 0 {
		t.Errorf("offered with %v degrees of freedom", few[0].Hand.Scatter.Dof)
	}
	zero := quantity.Value{}
	for name, over := range map[string]bench.Override{
		"a step seated several times": {What: bench.OverSetup, Name: "height", Value: o.Value},
		"no value":                    {What: bench.OverSetup, Name: "height-again", Value: &zero},
	} {
		if words := p.no(bench.Verb{Name: bench.DoOverride, Override: &over, Reason: "x"}); words == "" {
			t.Errorf("%s: refused without words", name)
		}
	}
}

// A day on which something is loose is told; a day like the others is not, but one time in a hundred.
func TestScatterBeyondChanceIsTold(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 3))
	told := func(sigma float64) int {
		n := 0
		for range 500 {
			builds := workshop(t, rng, 5, 2)
			today := workshop(t, rng, 1, sigma)[0]
			n += len(bench.ScatterToday(today, seated(append(builds, today)...)))
		}
		return n
	}
	if n := told(2); n > 15 {
		t.Errorf("%d of 500 usual days are told", n)
	}
	if n := told(12); n < 450 {
		t.Errorf("%d of 500 days with something loose are told", n)
	}
}
