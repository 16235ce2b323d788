package plan_test

import (
	"slices"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// firstAndOthers reads one lobe of the first cylinder, and those of the others by a point and a computation of their own.
const firstAndOthers = `title = "T"
version = 1
cylinders = CYLINDERS

[engine.apart]
value = "1 mm"
source = "measured"

[engine.apart_low]
derived = "- apart"

[[step]]
id = "deck"
title = "Deck"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
setup = "0.01 mm"
items = [{ for = "cylinder", name = "{cylinder}-cover" }]
out = OUT
[[step.point]]
for = "first"
id = "crown"
title = "{cylinder} crown"
[[step.point]]
for = "others"
id = "{cylinder}.crown"
[step.compute]
method = "statistics"
inputs = { values = ["@reading:crown"] }
[[step.also]]
name = "other"
per = "others"
method = "statistics"
inputs = { values = ["@reading:{cylinder}.crown"] }
[[step.also]]
name = "apart"
per = "others"
method = "statistics"
inputs = { values = ["@figure:deck.mean", "@figure:deck.{cylinder}.other.mean"] }
limits = { difference = { lower = "@engine.apart_low", upper = "@engine.apart" } }
[[step.also]]
name = "all"
method = "statistics"
inputs = { values = ["@figure:deck.mean", "@figure:deck.*.other.mean?"] }
`

func TestFirstCylinderAndTheOthers(t *testing.T) {
	for _, c := range []struct {
		cylinders    string
		points, runs []string
	}{
		{`["left", "right"]`, []string{"crown", "right.crown"}, []string{"", "right.other", "right.apart", "all"}},
		{`["left", "middle", "right"]`, []string{"crown", "middle.crown", "right.crown"},
			[]string{"", "middle.other", "right.other", "middle.apart", "right.apart", "all"}},
		{`["single"]`, []string{"crown"}, []string{"", "all"}}, // of one cylinder there is no other, and nothing to compare
	} {
		covers := strings.NewReplacer(`", "`, `-cover", "`, `"]`, `-cover"]`).Replace(c.cylinders)
		p := parse(t, strings.NewReplacer("CYLINDERS", c.cylinders, "OUT", covers).Replace(firstAndOthers))
		s := p.Steps[0]
		var points []string
		for _, pt := range s.Points {
			points = append(points, pt.ID)
		}
		if !slices.Equal(points, c.points) {
			t.Errorf("%s: points %v, want %v", c.cylinders, points, c.points)
		}
		if want := strings.Trim(strings.SplitN(c.cylinders, ",", 2)[0], `["]`) + " crown"; s.Points[0].Title != want {
			t.Errorf("%s: the first point is called %q, want %q", c.cylinders, s.Points[0].Title, want)
		}
		if got := p.Keys(s); !slices.Equal(got, c.runs) {
			t.Errorf("%s: runs %v, want %v", c.cylinders, got, c.runs)
		}
		if len(s.Items) != len(p.Cylinders) || s.Items[0].Name != p.Cylinders[0]+"-cover" {
			t.Errorf("%s: items %+v", c.cylinders, s.Items)
		}
		all := s.Also[len(s.Also)-1].Inputs["values"].Refs
		if len(all) != len(p.Cylinders) {
			t.Errorf("%s: all is %d figures, want one a cylinder", c.cylinders, len(all))
		}
	}
}

// Two computations of a step that limit how far one and the same figure lies apart are two limits; neither is lost.
func TestSpreadsOfOneFigureAreTwo(t *testing.T) {
	const text = `title = "T"
version = 1
cylinders = ["left", "right"]

[engine.apart]
value = "1 g"
source = "measured"

[[step]]
id = "weights"
title = "Weights"
do = "Weigh it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "scale", kind = "mass" }
setup = "0.1 g"
[[step.point]]
for = "cylinder"
id = "{cylinder}.small"
[[step.point]]
for = "cylinder"
id = "{cylinder}.big"
[step.compute]
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.small"] }
spread = { mean = { upper = "@engine.apart" } }
[[step.also]]
name = "big"
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.big"] }
spread = { mean = { upper = "@engine.apart" } }
`
	p := parse(t, text)
	got := p.Keys(p.Steps[0])
	for _, want := range []string{"mean-spread", "big-mean-spread"} {
		if !slices.Contains(got, want) {
			t.Errorf("runs %v: no %s", got, want)
		}
	}
}

// An answer decides point by point, and can be an input: the holes that are there are not measured again, and the keyway in use
// is what was answered.
func TestAnswersDecideCylinderByCylinder(t *testing.T) {
	const text = `title = "T"
version = 1
cylinders = CYLINDERS

[[step]]
id = "look"
title = "Look"
do = "Look at it."
phase = "dry"
kind = "check"
asks = [
    { id = "holes", text = "Which holes are there?", choice = ["none", "{cylinder}", "all"] },
    { id = "keyway", text = "Which keyway is in use?", choice = ["0", "+"] },
]

[[step]]
id = "hole"
title = "Hole"
when = { holes = { not = ["all"] } }
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "caliper" }
setup = "0.01 mm"
[[step.point]]
for = "cylinder"
when = { holes = { not = ["{cylinder}"] } }
id = "{cylinder}.thickness"
[step.compute]
method = "centre-line"
per = "point"
points = ["*.thickness"]
inputs = { thickness = "@reading" }

[[step]]
id = "cam"
title = "Cam"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "keyed", role = "wheel", kind = "angle" }
setup = "0.01 deg"
[[step.point]]
id = "centre"
[step.compute]
method = "cam-correction"
inputs = { centre_now = "@reading:centre", centre_wanted = "106 deg", teeth = 48, keyways = [{ name = "0", advance = "0 deg" }, { name = "+", advance = "2 deg" }], now = { keyway = "@answer:keyway" } }
`
	for _, c := range []struct {
		cylinders, holes, keyway string
		points                   []string
	}{
		{`["left", "right"]`, "none", "0", []string{"left.thickness", "right.thickness"}},
		{`["left", "right"]`, "right", "+", []string{"left.thickness"}},
		{`["left", "right"]`, "all", "0", nil},
		{`["single"]`, "none", "+", []string{"single.thickness"}},
	} {
		src := []byte(strings.Replace(text, "CYLINDERS", c.cylinders, 1))
		p := parse(t, string(src))
		if err := p.CheckAnswers(); err != nil {
			t.Fatalf("%s: %v", c.cylinders, err)
		}
		p, err := plan.ParseAnswered("t", src, map[string]string{"holes": c.holes, "keyway": c.keyway})
		if err != nil {
			t.Fatal(err)
		}
		var points []string
		if s, ok := p.Step("hole"); ok {
			for _, pt := range s.Points {
				points = append(points, pt.ID)
			}
		}
		if !slices.Equal(points, c.points) {
			t.Errorf("%s, holes %s: points %v, want %v", c.cylinders, c.holes, points, c.points)
		}
		cam, _ := p.Step("cam")
		if got := cam.Compute.Inputs["now"].Const; got == nil || got.Rec["keyway"].Text != c.keyway {
			t.Errorf("answered %s, the keyway in use is %+v", c.keyway, got)
		}
		if !slices.Equal(cam.Awaits, []string{"keyway"}) {
			t.Errorf("the step that takes the answer waits for %v", cam.Awaits)
		}
	}
	faulty := strings.Replace(strings.Replace(text, "CYLINDERS", `["left", "right"]`, 1), "@answer:keyway", "@answer:keyways", 1)
	if _, err := plan.Parse("t", []byte(faulty)); err == nil || !strings.Contains(err.Error(), `no step asks "keyways"`) {
		t.Errorf("an answer to no question: %v", err)
	}
}
