package plan_test

import (
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// A role or mode of the table says everything about itself, and is understood by the language.
func TestTablesOfRolesAndModes(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range plan.Roles {
		if seen[r.Name] || r.Words == "" || r.Measures != (len(r.Kinds) > 0) {
			t.Errorf("roles.go: row %+v", r)
		}
		seen[r.Name] = true
		for _, also := range r.Also {
			if _, is := plan.Role(also); is {
				t.Errorf("roles.go: %q, written for %q, is a role of its own", also, r.Name)
			}
		}
	}
	for _, m := range plan.Modes {
		if m.Words == "" || m.Primary == "" || m.Sweep && m.Typed || m.Paired && !m.Sweep {
			t.Errorf("modes.go: row %+v", m)
		}
		if row, ok := m.Name.Row(); !ok || row != m {
			t.Errorf("modes.go: %q is not found", m.Name)
		}
	}
	if _, ok := plan.Mode("guess").Row(); ok {
		t.Error("guess is a mode")
	}
}

func TestCheckRole(t *testing.T) {
	for name, want := range map[string]string{
		"bore": "", "wheel": "", "key": "",
		"boregauge": `did you mean "bore"`, "pedal": `did you mean "key"`, "indicater": `did you mean "indicator"`,
		"calliper": `did you mean "caliper"`, "Dial": `did you mean "indicator"`, "banana": "there are indicator, comparator",
	} {
		err := plan.CheckRole(name)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", name, err, want)
		}
	}
}

// A plan may ask only for gauges that there are, and that can read what it wants. What a build keeps is read in spite of it.
func TestRolesOfAPlanAreChecked(t *testing.T) {
	const was = `capture = { mode = "press", role = "indicator" }`
	for _, c := range []struct{ capture, want string }{
		{`capture = { mode = "press", role = "boregauge" }`, `test:24:36: step "guide", capture: role: "boregauge" is no gauge role; did you mean "bore"?`},
		{`capture = { mode = "press", role = "scale" }`, `test:24:36: step "guide", capture: role: "scale" (scale) reads mass, not length`},
		{`capture = { mode = "press", role = "key" }`, `test:24:36: step "guide", capture: role: "key" (pedal or key) measures nothing`},
		{`capture = { mode = "trace", role = "indicator", angle = "encoder" }`, `angle: "encoder" is no gauge role; did you mean "angle"?`},
		{`capture = { mode = "pres", role = "indicator" }`, `test:24:20: step "guide", capture: mode is "pres"; did you mean "press"?`},
	} {
		text := strings.Replace(sound, was, c.capture, 1)
		if text == sound {
			t.Fatal("the plan has changed")
		}
		_, err := plan.Parse("test", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.capture, err, c.want)
		}
		if _, err := plan.ParseKept("test", []byte(text)); err != nil && !strings.Contains(c.capture, "pres\"") {
			t.Errorf("%s: a build that keeps it can't be read: %v", c.capture, err)
		}
	}
}

// The plans that ship ask only for roles and modes of the tables, each for what it can read.
func TestShippedPlansUseTheTables(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		for _, s := range load(t, name).Steps {
			for _, pt := range s.Points {
				if r, ok := plan.Role(s.RoleOf(pt.ID)); !ok || !r.Measures || r.Name != "angle" && pt.Role == "" && !r.Reads(s.Capture.Kind) {
					t.Errorf("%s: %s/%s: role %q, kind %s", name, s.ID, pt.ID, s.RoleOf(pt.ID), s.Capture.Kind)
				}
				if _, ok := s.ModeOf(pt.ID).Row(); !ok {
					t.Errorf("%s: %s/%s: mode %q", name, s.ID, pt.ID, s.ModeOf(pt.ID))
				}
			}
		}
	}
	if r, _ := plan.Role("burette"); r.Reads(quantity.Length) || !r.Reads(quantity.Volume) {
		t.Error("a burette reads volumes")
	}
}

// Dependence is found by the structure of references: with braces in them, inside of objects, and never by likeness.
func TestDependsOn(t *testing.T) {
	p := load(t, "pushrod-twin")
	for _, c := range []struct {
		step, up string
		want     bool
	}{
		{"block-proof", "block-contact", true}, // @reading:block-contact/{cylinder}.contact
		{"block-proof", "block", false},
		{"block-proof", "block-seat", false}, // needs it, and computes with nothing of it
		{"block-proof", "block-proof", false},
		{"compression", "deck", true},
		{"deck", "compression", false},
	} {
		s, ok := p.Step(c.step)
		if !ok {
			t.Fatalf("no step %s", c.step)
		}
		if got := p.DependsOn(s, c.up); got != c.want {
			t.Errorf("%s on %s: %v", c.step, c.up, got)
		}
	}
	// The name of the other step may hold the run's own.
	const text = head + `
[[step]]
for = "cylinder"
id = "deck-{cylinder}"
title = "D"
do = "Do."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
[[step.point]]
id = "a"
[[step]]
id = "both"
title = "B"
do = "Do."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
[[step.point]]
for = "cylinder"
id = "{cylinder}.b"
[step.compute]
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:deck-{cylinder}/a", "@reading:{cylinder}.b"] }
`
	p = parse(t, text)
	both, _ := p.Step("both")
	if !p.DependsOn(both, "deck-left") || !p.DependsOn(both, "deck-right") || p.DependsOn(both, "deck") {
		t.Error("a step named by the run is not found")
	}
}

// Figures that others take: both sides' clearance for how far they lie apart, the deck for the compression; none of a run that
// stands at the end.
func TestTaken(t *testing.T) {
	p, err := plan.Load("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ step, run, want string }{
		{"block-proof", "left", "clearance_now"}, {"block-proof", "right", "clearance_now"}, {"block-proof", "clearance-now-spread", ""},
		{"deck", "left", "deck"}, {"nowhere", "", ""},
	} {
		if got := strings.Join(p.Taken(c.step, c.run), " "); got != c.want {
			t.Errorf("%s %s: %q is taken, want %q", c.step, c.run, got, c.want)
		}
	}
}
