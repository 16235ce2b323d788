package plan_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/plan"
)

// sided is a plan whose rings need the bores, each cylinder its own.
const sided = head + `
[[step]]
id = "bores"
title = "Bores"
do = "Read the bores."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "bore" }
[[step.point]]
for = "cylinder"
id = "{cylinder}.top"

[[step]]
id = "rings"
title = "Rings"
do = "Read the gaps."
phase = "dry"
kind = "measure"
needs = ["bores/{cylinder}"]
capture = { mode = "press", role = "indicator" }
[[step.point]]
for = "cylinder"
id = "{cylinder}.gap"

[[step]]
for = "cylinder"
id = "piston"
title = "Piston, {cylinder}"
do = "Fit it."
phase = "dry"
kind = "fit"
needs = ["rings/{cylinder}"]
confirms = [{ id = "in", text = "It is in." }]

[[step]]
id = "barrels"
title = "Barrels"
do = "Fit them."
phase = "dry"
kind = "fit"
needs = ["piston/left", "rings"]
confirms = [{ for = "cylinder", id = "{cylinder}-on", text = "The {cylinder} barrel is on." }]
`

// A need of one cylinder is written out: for the points of that cylinder, for the step that is the cylinder's, or for a
// whole step where it names one.
func TestNeedsOfOneCylinder(t *testing.T) {
	p := parse(t, sided)
	got := map[string][]plan.SideNeed{}
	for _, s := range p.Steps {
		if s.Sides != nil {
			got[s.ID] = s.Sides
		}
	}
	want := map[string][]plan.SideNeed{
		"rings":        {{Step: "bores", Cylinder: "left"}, {Step: "bores", Cylinder: "right"}},
		"piston-left":  {{Step: "rings", Cylinder: "left", Whole: true}},
		"piston-right": {{Step: "rings", Cylinder: "right", Whole: true}},
		"barrels":      {{Step: "piston-left", Cylinder: "left", Whole: true}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	barrels, _ := p.Step("barrels")
	if !slices.Equal(barrels.Needs, []string{"rings"}) {
		t.Errorf("barrels needs %v as a whole, want rings alone", barrels.Needs)
	}
	if c := barrels.Confirms; len(c) != 2 || c[1].ID != "right-on" || c[1].Cylinder != "right" {
		t.Errorf("confirmations of each cylinder: %+v", c)
	}
	rings, _ := p.Step("rings")
	if got := rings.SidesOf("right"); len(got) != 1 || got[0].Cylinder != "right" {
		t.Errorf("the right side of rings waits for %v", got)
	}
}

func TestFaultsInNeedsOfOneCylinder(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`needs = ["bores/{cylinder}"]`, `needs = ["bores/lft"]`, `:23:10: step "rings": needs "bores/lft", but there is no cylinder "lft"; did you mean "left"?`},
		{`needs = ["bores/{cylinder}"]`, `needs = ["bore/{cylinder}"]`, `:23:10: step "rings": needs "bore", but there is no such step; did you mean "bores"?`},
		{`needs = ["piston/left", "rings"]`, `needs = ["rings/{cylinder}"]`, `:45:10: step "barrels": needs "rings/{cylinder}", but no point of this step is a cylinder's: say needs = ["rings"]`},
		{`needs = ["bores/{cylinder}"]`, `needs = ["piston/{cylinder}"]`, `a circle of steps that wait for each other: rings → piston-left → rings`},
		{`needs = ["rings/{cylinder}"]`, `needs = ["rings/{cilinder}"]`, `:36:10: step "piston-left": needs: {cilinder} stands for nothing here`},
	} {
		text := strings.Replace(sided, c.old, c.new, 1)
		if text == sided {
			t.Fatalf("the plan has no %s", c.old)
		}
		_, err := plan.Parse("test", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.new, err, c.want)
		}
	}
	// Where nothing is one cylinder's, the slash is refused.
	text := strings.Replace(sided, `for = "cylinder"
id = "{cylinder}.top"`, `id = "top"`, 1)
	if _, err := plan.Parse("test", []byte(text)); err == nil || !strings.Contains(err.Error(), `nothing in step "bores" is done for one cylinder alone: say needs = ["bores"]`) {
		t.Errorf("got %v", err)
	}
}
