package plan_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// With two camshafts a guide block holds the followers of one of them and is called as it; what is done of a block waits for
// the same block, and for the whole of the casting that all of them sit in. Each camshaft has its own key, nut and answer.
func TestTwoCamshaftsHaveTheirOwnBlocks(t *testing.T) {
	p := load(t, "pushrod-two-shafts")
	if !slices.Equal(p.Blocks, []string{"inlet", "exhaust"}) || !slices.Equal(p.Cylinders, []string{"left", "right"}) {
		t.Fatalf("blocks %v of %v", p.Blocks, p.Cylinders)
	}
	for id, want := range map[string]string{
		"block-fit":     "inlet.seat exhaust.seat left.inlet.hole left.exhaust.hole right.inlet.hole right.exhaust.hole inlet.block exhaust.block left.inlet.follower left.exhaust.follower right.inlet.follower right.exhaust.follower",
		"screw-hole":    "inlet.thickness exhaust.thickness inlet.top inlet.foot exhaust.top exhaust.foot",
		"block-contact": "inlet.start exhaust.start inlet.contact exhaust.contact inlet.now exhaust.now",
		"block-seat":    "inlet.pilot exhaust.pilot inlet.seat exhaust.seat",
		"block-proof":   "inlet.now exhaust.now inlet.corner exhaust.corner",
		"blocks-locked": "inlet.dry exhaust.dry inlet.locked exhaust.locked",
		"bores":         "left.piston right.piston left.10mm.thrust left.10mm.pin left.40mm.thrust left.40mm.pin left.75mm.thrust left.75mm.pin right.10mm.thrust right.10mm.pin right.40mm.thrust right.40mm.pin right.75mm.thrust right.75mm.pin",
	} {
		s, _ := p.Step(id)
		if got := points(s); got != want {
			t.Errorf("%s: points\n got %s\nwant %s", id, got, want)
		}
	}
	locked, _ := p.Step("blocks-locked")
	if !slices.Contains(locked.Needs, "wash-barrels") || !locked.Sided("block-proof", "inlet") || locked.Sided("wash-barrels", "inlet") {
		t.Errorf("blocks-locked needs %v, and of one block %+v", locked.Needs, locked.Sides)
	}
	one, _ := load(t, "pushrod-twin").Step("blocks-locked")
	if slices.Contains(one.Needs, "wash-barrels") || !one.Sided("wash-barrels", "left") || !one.Sided("block-proof", "right") {
		t.Errorf("with one camshaft blocks-locked needs %v, and of one cylinder %+v", one.Needs, one.Sides)
	}
	var loose, asks []string
	for _, s := range p.Steps {
		for _, l := range s.Loose {
			loose = append(loose, s.ID+" "+l.Name+" "+l.Ends)
		}
		for _, a := range s.Asks {
			asks = append(asks, a.ID)
		}
	}
	for _, want := range []string{"timing-dry trial-inlet-nut cam", "timing-dry trial-exhaust-nut cam", "timing-gear inlet-nut cam-proof", "timing-gear exhaust-nut cam-proof"} {
		if !slices.Contains(loose, want) {
			t.Errorf("left loose: %v, want %s", loose, want)
		}
	}
	if !slices.Contains(asks, "keyway") || !slices.Contains(asks, "exhaust-keyway") {
		t.Errorf("asked: %v", asks)
	}
	cam, _ := p.Step("cam-proof")
	for _, key := range []string{"correction", "key", "exhaust-correction", "exhaust-key"} {
		if !slices.Contains(p.Keys(cam), key) {
			t.Errorf("the proof computes %v, want %s", p.Keys(cam), key)
		}
	}
}

// Two camshafts lie beside one casting: with barrels cast each the twin is refused, in one sentence.
func TestTwoCamshaftsWantOneCasting(t *testing.T) {
	p := load(t, "pushrod-v")
	text, err := plan.Shape("pushrod-v", p.Text, map[string]string{"camshaft": "two"})
	if err != nil {
		t.Fatal(err)
	}
	_, err = plan.Parse("pushrod-v", text)
	const want = "barrels = each and camshaft = two can't stand together: Two camshafts lie beside one casting: take barrels = one."
	if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
		t.Errorf("got %v", err)
	}
}

const marking = head + `
[[step]]
id = "parts"
title = "Parts"
do = "Read them."
phase = "dry"
kind = "measure"
capture = { role = "micrometer" }
asks = [{ id = "plate-{cylinder}", for = "cylinder", text = "Which plate is under the {cylinder}?", choice = ["none", "0.5 mm"] }]
[[step.point]]
for = "valve"
id = "{cylinder}.{valve}"
title = "Follower {number}, or {letter}"
[step.compute]
method = "assign"
[step.compute.inputs]
parts = [{ for = "valve", name = "follower {letter}", size = "@reading:{cylinder}.{valve}" }]
places = [{ for = "valve", name = "{cylinder} {valve}", size = "12 mm" }]
[[step.also]]
name = "there"
for = "valve"
method = "statistics"
inputs = { values = ["@figure:parts.sizes[{number}]"] }
spread = { mean = { upper = "0.01 mm", source = "builder's choice" } }
[[step.also]]
name = "plates"
for = "cylinder"
method = "indicator-travel"
inputs = { reading = "@reading:{cylinder}.inlet", zero = "@answer:plate-{cylinder}?" }
[[step]]
id = "on"
title = "On"
do = "Plate {answer:plate-left}."
phase = "dry"
kind = "fit"
confirms = [{ id = "plate", text = "Plate: {answer:plate-right}; gasket." }]
`

// Loose parts are marked by their place among all; a computation that is written out takes an element of a list, an answer
// or a constant of its own; an answer stands in the texts that say it, and the step waits for it.
func TestPartsAreMarkedAndComputationsWrittenOut(t *testing.T) {
	text := strings.Replace(marking, `zero = "@answer:plate-{cylinder}?"`, `zero = "@answer:plate-{cylinder}"`, 1)
	text = strings.ReplaceAll(text, `"none", "0.5 mm"`, `"0 mm", "0.5 mm"`)
	p, err := plan.ParseAnswered("test", []byte(text), map[string]string{"plate-right": "0.5 mm"})
	if err != nil {
		t.Fatal(err)
	}
	s, _ := p.Step("parts")
	if s.Points[2].Title != "Follower 3, or C" {
		t.Errorf("marked %q", s.Points[2].Title)
	}
	if got, want := fmt.Sprint(p.Keys(s)), "[ left.inlet.there left.exhaust.there right.inlet.there right.exhaust.there mean-spread left.plates right.plates]"; got != want {
		t.Errorf("runs\n got %s\nwant %s", got, want)
	}
	if got := s.ComputeOf("right.inlet.there").Inputs["values"].Refs[0]; got.Item != 3 || got.Name != "sizes" || got.Step != "parts" {
		t.Errorf("the third takes %+v", got)
	}
	for key, want := range map[string]float64{"left.plates": 0, "right.plates": 0.5} {
		if got := s.ComputeOf(key).Inputs["zero"].Const; got == nil || got.Num == nil || got.Num.X != want {
			t.Errorf("%s: plate %+v, want %v", key, got, want)
		}
	}
	on, _ := p.Step("on")
	if on.Do != "Plate 0 mm." || on.Confirms[0].Text != "Plate: 0.5 mm; gasket." || !slices.Equal(on.Awaits, []string{"plate-left", "plate-right"}) {
		t.Errorf("%q, %q, waits for %v", on.Do, on.Confirms[0].Text, on.Awaits)
	}
}

func TestFaultsOfMarksAndBlocks(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"", "", `needs the input zero`}, // none of it, where the input must be there
		{`[{number}]`, `[0]`, `want a number from 1 in the brackets, as "@figure:STEP.sizes[2]"`},
		{`sizes[{number}]`, `spread[{number}]`, `spread is one value, and no list to take number 1 of`},
		{`[{number}]`, `[{numbre}]`, `{numbre} in "@figure:parts.sizes[{numbre}]" stands for nothing here`},
		{"name = \"there\"\nfor", "name = \"there\"\nper = \"valve\"\nfor", `for and per both say how often it runs; use one of them`},
		{`"Plate {answer:plate-left}."`, `"Plate {answer:plate}."`, `do: {answer:plate} stands for nothing here`},
		{`id = "plate-{cylinder}", for = "cylinder"`, `id = "plate-left"`, `no step asks "plate-right"`},
		{"[[step]]\nid = \"parts\"", "[[blocks]]\neach = \"row\"\n[[step]]\nid = \"parts\"", `each is "row", want one of cylinder, camshaft`},
		{"[[step]]\nid = \"parts\"", "[[blocks]]\neach = \"camshaft\"\n[[blocks]]\neach = \"cylinder\"\n[[step]]\nid = \"parts\"", `two [[blocks]] stand with the variants chosen; give each a when that leaves the other out`},
	} {
		_, err := plan.CheckShapes("test", []byte(strings.Replace(marking, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.new, err, c.want)
		}
	}
}
