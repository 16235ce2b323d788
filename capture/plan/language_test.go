package plan_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// shaped is a plan with a variant, a group, derived data, two gauges in a step, several computations and a cure.
const shaped = `title = "T"
version = 1
cylinders = ["left", "right"]
valves = ["inlet", "exhaust"]

[variant.pushrods]
title = "Pushrods"
choice = ["tubes", "tunnels"]
value = "tubes"

[group.balance]
title = "Balance the crankshaft"
on = false

[engine.stroke]
value = "81 mm"
source = "measured"

[engine.crank_radius]
title = "Throw"
derived = "stroke / 2"

[engine.fit_least]
value = "0.0005 in"
source = "measured"

[engine.fit_most]
derived = "fit_least + 0.5 * fit_least + fit_least / 2"

[engine.fit_spread]
value = "0.0004 in"
source = "measured"

[engine.ring]
value = "25 mm"
source = "measured"

[engine.tube_length]
when = { pushrods = "tubes" }
value = "180 mm"
source = "measured"

[[step]]
id = "weights"
title = "Weights"
do = "Weigh it."
phase = "dry"
kind = "measure"
when = { balance = true }
capture = { mode = "press", role = "scale", kind = "mass" }
[[step.point]]
for = "cylinder"
id = "{cylinder}"

[[step]]
id = "fit"
title = "Fit"
do = "Read it."
phase = "dry"
kind = "measure"
needs = ["weights"]
capture = { mode = "press", role = "bore" }
datum = { do = "Ring.", size = "@engine.ring", close = true }
[[step.gauge]]
name = "shaft"
capture = { mode = "press", role = "micrometer" }
datum = { do = "Piece.", size = "@engine.ring", each = true }
[[step.point]]
for = "cylinder"
id = "{cylinder}.hole"
[[step.point]]
for = "cylinder"
id = "{cylinder}.shaft"
gauge = "shaft"
[step.compute]
method = "running-fit"
per = "cylinder"
inputs = { hole = "@reading:{cylinder}.hole", shaft = "@reading:{cylinder}.shaft" }
[step.compute.limits]
clearance = { lower = "@engine.fit_least", upper = "@engine.fit_most", from_pass = 2 }
[step.compute.spread]
clearance = { upper = "@engine.fit_spread", told = "Swap the two blocks and read again." }
[[step.also]]
name = "throw"
before = true
method = "piston-position"
inputs = { stroke = "@engine.stroke", rod = "@engine.stroke", angle = "20 deg" }

[[step]]
id = "keepers"
title = "Keepers"
do = "Fit and take off."
phase = "final"
kind = "fit"
needs = ["fit"]
items = [{ name = "keepers", count = "1 per valve" }]
out = ["keepers"]
cures = [{ name = "compound", time = "20 min", holds = ["lid"] }, { name = "tin", time = "10 min", until = "lid" }]
confirms = [{ id = "home", text = "Home.", alone = true }]

[[step]]
id = "lid"
title = "Lid"
do = "Put it on."
phase = "start"
kind = "check"
needs = ["keepers"]
confirms = [{ id = "on", text = "On." }, { id = "tubes", text = "Tubes stand.", when = { pushrods = "tubes" } }]
`

func TestShapesOfAPlan(t *testing.T) {
	p, err := plan.CheckShapes("test", []byte(shaped))
	if err != nil {
		t.Fatal(err)
	}
	if _, in := p.Step("weights"); in || !slices.Contains(p.Left, "weights") {
		t.Errorf("weights is in though its group is off; left out: %v", p.Left)
	}
	fit, _ := p.Step("fit")
	if len(fit.Needs) != 0 {
		t.Errorf("fit waits for a step that is left out: %v", fit.Needs)
	}
	text, err := plan.Shape("test", []byte(shaped), map[string]string{"pushrods": "tunnels", "balance": "yes"})
	if err != nil {
		t.Fatal(err)
	}
	q := parse(t, string(text))
	if s, in := q.Step("weights"); !in || s.ID != "weights" {
		t.Error("weights is not in though its group is on")
	}
	fit, _ = q.Step("fit")
	if !slices.Equal(fit.Needs, []string{"weights"}) {
		t.Errorf("fit needs %v", fit.Needs)
	}
	lid, _ := q.Step("lid")
	if _, there := q.Datum("tube_length"); there || len(lid.Confirms) != 1 {
		t.Errorf("tunnels have tubes: %v", lid.Confirms)
	}
	if d := len(text) - len(shaped); d != 2+(-1) { // "tunnels" for "tubes", "true" for "false"
		t.Errorf("the text changed by %d bytes", d)
	}
	for choice, want := range map[string]string{
		"pushrod=tubes":   `no variant and no group "pushrod"; did you mean "pushrods"?`,
		"pushrods=tunnel": `pushrods can't be "tunnel"; did you mean "tunnels"?`,
		"balance=maybe":   `balance can't be "maybe"; there are no, yes`,
	} {
		k, v, _ := strings.Cut(choice, "=")
		if _, err := plan.Shape("test", []byte(shaped), map[string]string{k: v}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v\nwant %s", choice, err, want)
		}
	}
}

// A fault that only one shape of the plan has is found, and told with the shape.
func TestFaultsOfAShape(t *testing.T) {
	text := strings.Replace(shaped, `inputs = { hole = "@reading:{cylinder}.hole"`, `inputs = { hole = "@engine.tube_length"`, 1)
	_, err := plan.CheckShapes("test", []byte(text))
	if err == nil || !strings.Contains(err.Error(), `pushrods = tunnels`) || !strings.Contains(err.Error(), "[engine.tube_length] is left out with the variants chosen") {
		t.Errorf("%v", err)
	}
	if _, err := plan.Parse("test", []byte(text)); err != nil {
		t.Errorf("with tubes it has a fault: %v", err)
	}
}

func TestDerivedData(t *testing.T) {
	p := parse(t, shaped)
	for name, want := range map[string]string{"crank_radius": "40.5 mm", "fit_most": "0.001 in"} {
		d, _ := p.Datum(name)
		if d.Value.String() != want {
			t.Errorf("%s is %s, want %s", name, d.Value, want)
		}
	}
	// In a build that has another stroke the throw follows.
	d, _ := p.Datum("crank_radius")
	got := d.Derive(func(name string) (plan.Datum, bool) {
		s, ok := p.Datum(name)
		s.Value, _ = quantity.Parse("90 mm")
		return s, ok
	})
	if got.Value.String() != "45 mm" {
		t.Errorf("half of 90 mm is %s", got.Value)
	}
	for formula, want := range map[string]string{
		"stroke * ring":       "a product of length and length has no kind here",
		"strok / 2":           `there is no [engine.strok]; did you mean "stroke"?`,
		"stroke /":            "ends too early",
		"crank_radius":        "in a circle",
		"stroke 2":            `"2": want +, -, * or /`,
		"stroke + 2":          "a number can't be added to a length",
		"(stroke)":            `"(stroke)" is neither a number nor the name`,
		"stroke / pin_offset": "there is no [engine.pin_offset]",
	} {
		text := strings.Replace(shaped, `derived = "stroke / 2"`, `derived = "`+formula+`"`, 1)
		if _, err := plan.Parse("test", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v\nwant %s", formula, err, want)
		}
	}
}

// Two gauges in a step: each point is seen with its own.
func TestSeveralGauges(t *testing.T) {
	s, _ := parse(t, shaped).Step("fit")
	if r := s.RoleOf("left.hole"); r != "bore" {
		t.Errorf("the hole is read with %s", r)
	}
	at := s.At("left.shaft")
	if at.Capture.Role != "micrometer" || at.Datum.Do != "Piece." || !at.Datum.Each || s.RoleOf("left.shaft") != "micrometer" {
		t.Errorf("the shaft is seen as %+v, %+v", at.Capture, at.Datum)
	}
	if s.At("datum").Datum.Do != "Ring." {
		t.Error("the datum that closes the pass is not the step's own")
	}
}

// One step computes several things: for each cylinder, the spread over both, and before the first reading.
func TestRuns(t *testing.T) {
	p := parse(t, shaped)
	s, _ := p.Step("fit")
	if got := p.Keys(s); !slices.Equal(got, []string{"left", "right", "clearance-spread"}) {
		t.Errorf("keys are %q", got)
	}
	if before := p.RunsBefore(s); len(before) != 1 || before[0].Key != "throw" {
		t.Errorf("told before: %+v", before)
	}
	spread := s.ComputeOf("clearance-spread")
	if spread.Method != "spread" || spread.Kind != quantity.Length || spread.Limits["range"].Upper == nil || spread.Told == "" {
		t.Errorf("the spread is %+v", spread)
	}
	if refs := spread.Inputs["values"].Refs; len(refs) != 2 || refs[1].Text != "@figure:fit.right.clearance" {
		t.Errorf("the spread is over %v", refs)
	}
	if c := s.ComputeOf("left"); c.LimitFrom["clearance"] != 2 {
		t.Errorf("the limit binds from pass %d", c.LimitFrom["clearance"])
	}
	// Of one cylinder there is no spread.
	one := parse(t, strings.Replace(shaped, `["left", "right"]`, `["single"]`, 1))
	s, _ = one.Step("fit")
	if got := one.Keys(s); !slices.Equal(got, []string{"single"}) {
		t.Errorf("keys of a single are %q", got)
	}
}

func TestCuresAndCounts(t *testing.T) {
	s, _ := parse(t, shaped).Step("keepers")
	if s.Items[0].Count != 4 || !s.Confirms[0].Alone {
		t.Errorf("%+v, %+v", s.Items, s.Confirms)
	}
	want := []plan.Cure{{Name: "compound", Time: 20 * time.Minute, Holds: []string{"lid"}}, {Name: "tin", Time: 10 * time.Minute, Until: "lid"}}
	for i, c := range s.Cures {
		if c.Name != want[i].Name || c.Time != want[i].Time || !slices.Equal(c.Holds, want[i].Holds) || c.Until != want[i].Until {
			t.Errorf("%+v, want %+v", c, want[i])
		}
	}
}

// Faults of what the language gained, each where it is written.
func TestFaultsOfShapedPlans(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{`when = { balance = true }`, `when = { balanse = true }`, `test:49:10: step "weights", when: there is no variant, no group and no question "balanse"; did you mean "balance"?`},
		{`when = { balance = true }`, `when = { balance = "yes" }`, `balance is a text, want true or false`},
		{`when = { pushrods = "tubes" } }]`, `when = { pushrods = "tube" } }]`, `pushrods can't be "tube"; did you mean "tubes"?`},
		{`value = "tubes"`, `value = "tunels"`, `value is "tunels"; did you mean "tunnels"?`},
		{`gauge = "shaft"`, `gauge = "shaff"`, `the step has no [[step.gauge]] named "shaff"; did you mean "shaft"?`},
		{`size = "@engine.ring", each = true`, `size = "@engine.ring", close = true`, `only the step's own datum closes a pass`},
		{`count = "1 per valve"`, `count = "1 per piston"`, `count is "1 per piston", want a whole number, or as "1 per cylinder"`},
		{`holds = ["lid"]`, `holds = ["fit"]`, `holds names "fit", which is not a later step`},
		{`time = "20 min", holds = ["lid"]`, `time = "20 min"`, `want either holds`},
		{`time = "20 min"`, `time = "20 minutes"`, `time is "20 minutes", want a time up to a month`},
		{`value = "81 mm"`, `value = 81`, `test:16:9: engine data "stroke": value is the bare number 81, but step "fit" takes it as length: write its unit, as "81 mm"`},
		{`hole = "@reading:{cylinder}.hole"`, `hol = "@reading:{cylinder}.hole"`, `the method running-fit has no input "hol"; did you mean "hole"?`},
		{`method = "running-fit"`, `method = "running-fits"`, `no method "running-fits"; did you mean "running-fit"?`},
		{`clearance = { upper = "@engine.fit_spread"`, `clearanse = { upper = "@engine.fit_spread"`, `running-fit has no figure "clearanse"; did you mean "clearance"?`},
		{`rod = "@engine.stroke"`, `rod = "@reading:left.hole"`, `is read only later; what is told before takes engine data and figures of other steps`},
		{`phase = "start"`, `phase = "strat"`, `phase is "strat"; did you mean "start"?`},
		{`needs = ["fit"]`, `needs = ["fits"]`, `needs "fits", but there is no such step; did you mean "fit"?`},
	} {
		text := strings.Replace(shaped, c.old, c.new, 1)
		if text == shaped {
			t.Fatalf("%q is not in the plan", c.old)
		}
		if _, err := plan.Parse("test", []byte(text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.new, err, c.want)
		}
	}
}
