package bench_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/capture/bench"
)

// enginePlan asks for customary values, has one that is derived and one of the maker's.
const enginePlan = head + `
[engine.stroke]
value = "70.0 mm"
source = "maker's data"
[engine.crank_radius]
derived = "stroke / 2"
[engine.base_joint]
value = "0.020 in"
source = "common practice"
confirm = true
[engine.clearance]
value = "0.045 in"
source = "common practice"
confirm = true
[engine.shims]
list = ["0.002 in", "0.004 in"]
source = "common practice"
confirm = true
[engine.key]
word = "A"
choice = ["A", "B", "C"]
source = "builder's choice"
confirm = true
`

const engineStep = `
[[step]]
id = "ready"
title = "Ready"
do = "Look."
phase = "dry"
kind = "check"
data = true
confirms = [{ id = "looked", text = "It was looked at." }]
`

// engineBench begins a build of an engine.
func engineBench(tb testing.TB) *play {
	p := newPlay(tb, head+stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")), dial("dial-1", "indicator"))
	p.startEngine("21")
	return p
}

func (p *play) startEngine(job string) {
	p.tb.Helper()
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Engine: "twin 4", Plan: "rules", Text: enginePlan + engineStep}})
}

func typed(pairs ...string) *bench.EngineSet {
	set := &bench.EngineSet{Engine: "twin 4"}
	for _, pair := range pairs {
		name, text, _ := strings.Cut(pair, "=")
		set.Values = append(set.Values, bench.EngineValue{Name: name, Text: text, Gone: text == ""})
	}
	return set
}

func (p *play) set(pairs ...string) bench.Decision {
	p.tb.Helper()
	return p.ok(bench.Verb{Name: bench.DoEngineSet, Engine: typed(pairs...), By: "ab"})
}

func (p *play) build(job string) *bench.Build {
	p.tb.Helper()
	b, ok := p.sc.State.Build(job)
	if !ok {
		p.tb.Fatalf("no build %s", job)
	}
	return b
}

// asks lists the engine data that a build's first step asks for.
func (p *play) asks(job string) []string {
	b := p.build(job)
	var out []string
	for _, d := range bench.Unconfirmed(b, b.Plan.Steps[0]) {
		out = append(out, d.Name)
	}
	return out
}

// What is confirmed in one build of an engine is not asked for in the next; what changed, or is new, is.
func TestASecondBuildAsksOnlyWhatChanged(t *testing.T) {
	p := engineBench(t)
	if got := fmt.Sprint(p.asks("21")); got != "[base_joint clearance shims key]" {
		t.Fatalf("the first build asks for %s", got)
	}
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "engine.clearance"})
	before := p.n
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	if got := p.n - before; got != 2 {
		t.Errorf("confirming all that is open made %d entries, want one of values and one of the check", got)
	}
	if got := p.asks("21"); len(got) != 0 {
		t.Fatalf("after that it asks for %v", got)
	}
	by, ok := p.build("21").ConfirmedBy("shims")
	if !ok || by.N != uint64(p.n-1) {
		t.Errorf("who confirmed the shims: %+v %v", by, ok)
	}
	p.ok(bench.Verb{Name: bench.DoBuildClose, Reason: "done"})
	p.startEngine("22")
	if got := p.asks("22"); len(got) != 0 {
		t.Errorf("the second build asks for %v", got)
	}
	// A plan that says something else than it said when the value was confirmed is asked about once.
	text := strings.Replace(enginePlan+engineStep, `"0.045 in"`, `"0.050 in"`, 1)
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "23", Engine: "twin 4", Plan: "rules", Text: text}})
	if got := fmt.Sprint(p.asks("23")); got != "[clearance]" {
		t.Errorf("with another value in the plan it asks for %s", got)
	}
	if d, _ := p.build("23").Datum("clearance"); d.Value.String() != "0.045 in" {
		t.Errorf("until that is answered %s holds, want what was confirmed", d.Value)
	}
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "engine.clearance"})
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "24", Engine: "twin 4", Plan: "rules", Text: text}})
	if got := p.asks("24"); len(got) != 0 {
		t.Errorf("it asks again for %v", got)
	}
	// Another engine is another matter.
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "25", Engine: "twin 5", Plan: "rules", Text: text}})
	if got := p.asks("25"); len(got) != 4 {
		t.Errorf("another engine's build asks for %v", got)
	}
}

// A maker's figure takes the place of a derived one; where both differ that is asked once, beyond rounding only.
func TestAMakersFigureAndADerivedOne(t *testing.T) {
	p := engineBench(t)
	if d, _ := p.build("21").Datum("crank_radius"); d.Value.String() != "35 mm" || d.Derived != "stroke / 2" {
		t.Fatalf("derived: %+v", d)
	}
	p.set("crank_radius=35.02 mm")
	if d, _ := p.build("21").Datum("crank_radius"); d.Value.String() != "35.02 mm" || d.Derived != "" || d.Confirm {
		t.Errorf("the maker's figure: %+v", d)
	}
	p.set("stroke=70.04 mm") // it follows: 35.02, the very figure
	if d, _ := p.build("21").Datum("crank_radius"); d.Confirm {
		t.Error("two that agree are asked about")
	}
	p.set("stroke=70.5 mm")
	if got := fmt.Sprint(p.asks("21")); !strings.Contains(got, "crank_radius") {
		t.Errorf("a figure that differs from what follows is not asked about: %s", got)
	}
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "engine.crank_radius"})
	if got := fmt.Sprint(p.asks("21")); strings.Contains(got, "crank_radius") {
		t.Errorf("asked twice: %s", got)
	}
	p.set("crank_radius=")
	if d, _ := p.build("21").Datum("crank_radius"); d.Value.String() != "35.25 mm" {
		t.Errorf("taken out of the record, it does not follow any more: %+v", d)
	}
}

// A value of another kind, or far from plausible, is refused in one sentence that says what stands.
func TestABadEngineValueIsRefused(t *testing.T) {
	p := engineBench(t)
	for pair, want := range map[string]string{
		"base_joint=20 N":             "base_joint is a length, 0.020 in now",
		"base_joint=thick":            "base_joint is a length, 0.020 in now",
		"base_joint=0.5 mm, 2":        "base_joint is a length",
		"base_joint=0.020 mm":         "inches and millimetres look mixed up",
		"base_joint=0.120 in":         "is 6 times 0.020 in",
		"base_joint=-0.020 in":        "the other sign",
		"shims=0.002 in, 0.5 mm, 4 N": "shims is a list of the kind length",
		"shims=1 in":                  "times 0.004 in",
		"key=D":                       `key can't be "D": want one of A, B, C`,
		"base_jiont=0.020 in":         `did you mean "base_joint"`,
		"Base=0.020 in":               "cannot name a value",
		"stroke=":                     "the record holds no stroke",
	} {
		if got := p.no(bench.Verb{Name: bench.DoEngineSet, Engine: typed(pair)}); !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q in it", pair, got, want)
		}
	}
	twice := typed("key=B", "key=C")
	if got := p.no(bench.Verb{Name: bench.DoEngineSet, Engine: twice}); !strings.Contains(got, "twice") {
		t.Error(got)
	}
	sure := typed("base_joint=0.120 in")
	sure.Sure = true
	p.ok(bench.Verb{Name: bench.DoEngineSet, Engine: sure})
	if got := p.no(bench.Verb{Name: bench.DoEngineSet, Engine: sure}); !strings.Contains(got, "holds that already") {
		t.Error(got)
	}
}

// Fields reach the build whatever its plan has; those of one engine are not copied to another.
func TestFieldsOfAnEngine(t *testing.T) {
	p := engineBench(t)
	p.set("engine_number=T 207", "customer=A. Rider", "serial_left_piston=L7", "base_joint=0.021 in")
	if d, ok := p.build("21").Datum("engine_number"); !ok || d.Word != "T 207" || d.Title != "Engine number" {
		t.Errorf("engine number: %+v %v", d, ok)
	}
	var names []string
	for _, d := range p.build("21").Fields() {
		names = append(names, d.Name)
	}
	if got := fmt.Sprint(names); got != "[engine_number customer serial_left_piston]" {
		t.Errorf("fields: %s", got)
	}
	g, _ := p.sc.State.Record("twin 4")
	set := g.CopyTo("twin 5")
	if len(set.Values) != 1 || set.Values[0].Name != "base_joint" || !set.Values[0].Open {
		t.Errorf("copied: %+v", set.Values)
	}
	p.ok(bench.Verb{Name: bench.DoEngineSet, Engine: &set})
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "30", Engine: "twin 5", Plan: "rules", Text: enginePlan + engineStep}})
	if d, _ := p.build("30").Datum("base_joint"); d.Value.String() != "0.021 in" || !d.Confirm {
		t.Errorf("a copied value: %+v, want 0.021 in, to be confirmed", d)
	}
}

// The data that a build confirmed before there was a record count, and are offered to the record.
func TestABuildOfBeforeTheRecord(t *testing.T) {
	p := engineBench(t)
	for _, item := range []string{"engine.base_joint", "engine.clearance", "engine.shims", "engine.key"} { // as a program of before wrote it
		p.make(bench.Entry{Kind: bench.Confirmed, Place: bench.Place{Build: "21", Step: "ready"}, Item: item, By: "ab"})
	}
	if got := p.asks("21"); len(got) != 0 {
		t.Errorf("it asks again for %v", got)
	}
	if by, ok := p.build("21").ConfirmedBy("key"); !ok || by.By != "ab" {
		t.Errorf("who confirmed: %+v", by)
	}
	set := p.build("21").Offered()
	if len(set.Values) != 4 {
		t.Fatalf("offered: %+v", set)
	}
	p.ok(bench.Verb{Name: bench.DoEngineSet, Engine: &set})
	if got := p.build("21").Offered(); len(got.Values) != 0 {
		t.Errorf("offered again: %+v", got)
	}
	p.startEngine("22")
	if got := p.asks("22"); len(got) != 0 {
		t.Errorf("the next build asks for %v", got)
	}
}

// A closed build keeps the values that it was closed with, whatever is kept of its engine later; an open one follows.
func TestAClosedBuildKeepsItsValues(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := engineBench(t)
		thou := rapid.IntRange(10, 40)
		change := func() {
			v := length(rt, fmt.Sprintf("0.%03d in", thou.Draw(rt, "joint")))
			p.make(bench.Entry{Kind: bench.EngineValues, Engine: &bench.EngineSet{Engine: "twin 4", Values: []bench.EngineValue{{Name: "base_joint", Value: &v, Source: "measured"}}}})
		}
		for range rapid.IntRange(0, 3).Draw(rt, "before") {
			change()
		}
		p.make(bench.Entry{Kind: bench.BuildClosed, Place: bench.Place{Build: "21"}})
		at, _ := p.build("21").Datum("base_joint")
		record := p.build("21").Record
		p.startEngine("22")
		for range rapid.IntRange(1, 4).Draw(rt, "after") {
			change()
		}
		if got, _ := p.build("21").Datum("base_joint"); got.Value != at.Value || p.build("21").Record != record {
			rt.Fatalf("the closed build has %s now, it was closed with %s", got.Value, at.Value)
		}
		now, _ := p.sc.State.Record("twin 4")
		if p.build("22").Record != now {
			rt.Fatal("the open build does not see the record as it is")
		}
	})
}

// A value that was changed for one build alone stands there whatever is kept of its engine, and that is said.
func TestABuildsOwnValueStands(t *testing.T) {
	p := engineBench(t)
	own := length(t, "0.025 in")
	p.ok(bench.Verb{Name: bench.DoOverride, Reason: "a thicker joint", Override: &bench.Override{What: bench.OverEngine, Name: "base_joint", Value: &own}})
	if d := p.set("base_joint=0.030 in"); !strings.Contains(d.Words, "job 21 keeps its own value of base joint, 0.025 in") {
		t.Errorf("said: %s", d.Words)
	}
	if d, _ := p.build("21").Datum("base_joint"); d.Value.String() != "0.025 in" {
		t.Errorf("the build has %s now", d.Value)
	}
}

// The page of an engine: each value once, with who confirmed it, what it follows from, what the build before had.
func TestThePageOfAnEngine(t *testing.T) {
	p := engineBench(t)
	p.set("crank_radius=35.02 mm", "base_joint=0.021 in")
	p.set("crank_radius=", "stroke=70.5 mm")
	p.ok(bench.Verb{Name: bench.DoBuildClose, Reason: "done"})
	p.startEngine("22")
	p.set("base_joint=0.022 in", "crank_radius=35.02 mm", "stroke=71 mm", "mark_left_piston=L7")
	g, _ := p.sc.State.Record("twin 4")
	page := bench.EnginePageOf(g, []*bench.Build{p.build("22"), p.build("21")}, p.sc.State.PartsIn("twin 4", 0))
	rows := map[string]bench.EngineValueRow{}
	for _, group := range page.Groups {
		for _, r := range group.Values {
			if _, twice := rows[r.Name]; twice {
				t.Errorf("%s is shown twice", r.Name)
			}
			rows[r.Name] = r
		}
	}
	if r := rows["base_joint"]; r.Words != "0.022 in" || r.Last != "0.021 in" || !r.Changed || r.By != "ab" || !r.Recorded {
		t.Errorf("base joint: %+v", r)
	}
	if r := rows["crank_radius"]; !r.Asked || r.AgainstValue != "35.5 mm" || !strings.Contains(r.From, "stroke / 2 (stroke 71 mm)") {
		t.Errorf("a figure that differs from what follows: %+v", r)
	}
	if r := rows["mark_left_piston"]; r.Words != "L7" || r.Title != "Mark of the left piston" {
		t.Errorf("mark: %+v", r)
	}
	if page.Job != "22" || page.Last != "21" || page.Asked != 4 { // the radius, and what nobody confirmed
		t.Errorf("page: job %s, before %s, %d asked", page.Job, page.Last, page.Asked)
	}
}
