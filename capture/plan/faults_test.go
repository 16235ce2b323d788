package plan_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/plan"
)

// sound is a plan without faults; each case below spoils one place of it.
const sound = `title = "Test"
version = 1
cylinders = ["left", "right"]
valves = ["inlet", "exhaust"]

[engine.clearance]
value = "0.050 in"
source = "builder's choice"

[engine.shim_list]
list = ["0.002 in", "0.003 in"]
source = "measured"

[engine.thread]
word = "5/16-24 UNF"
source = "maker's data"

[[step]]
id = "guide"
title = "Guide block"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
items = [{ name = "cover", keep_until = "lid", out_before = "close" }]
loose = [{ name = "nut", ends = "close" }]

[[step.point]]
for = "cylinder"
id = "{cylinder}.contact"

[[step.point]]
for = "cylinder"
id = "{cylinder}.now"
from_pass = 2

[step.compute]
method = "contact-clearance"
per = "cylinder"
shown = ["move"]
approach = { figure = "clearance_now", point = "{cylinder}.now" }

[step.compute.inputs]
protrusion = ["@reading:{cylinder}.contact"]
clearance = "@engine.clearance"
now = "@reading:{cylinder}.now?"

[step.compute.limits]
clearance_now = { lower = "0.048 in", upper = "0.052 in", source = "builder's choice" }

[[step]]
id = "lid"
title = "Lid"
do = "Look."
phase = "dry"
kind = "check"
needs = ["guide"]
confirms = [{ id = "seen", text = "Seen." }]

[[step]]
id = "cover-out"
title = "Cover out"
do = "Take the cover out."
phase = "wash"
kind = "fit"
out = ["cover"]
confirms = [{ id = "out", text = "Out." }]

[[step]]
id = "close"
title = "Close"
do = "Close it."
phase = "final"
kind = "fit"
confirms = [{ id = "closed", text = "Closed." }]
`

// faultCases: what is replaced by what, and every fault that must be named: what stands in the file at its line and
// column, a bar, and the words of the fault.
var faultCases = []struct {
	name     string
	old, new string
	want     []string
}{
	{"no equals sign", `version = 1`, `version 1`, []string{"1\ncyl|not TOML: expected '=' after key"}},
	{"two broken lines", "version = 1\ncylinders = [\"left\", \"right\"]", "version = 1..2\ncylinders = [\"left\" = \"right\"]",
		[]string{".2|not TOML: ", "= \"right\"]|not TOML: "}},
	{"key twice", `version = 1`, "version = 1\nversion = 2", []string{"version = 2|not TOML: "}},
	{"unknown key at the top", `version = 1`, "version = 1\nvresion = 2", []string{`vresion|unknown key "vresion"; did you mean "version"? Known here: `}},
	{"unknown key of a step", `do = "Look."`, `does = "Look."`, []string{
		`step]]|step "lid": do is missing: what to do now, one sentence`,
		`does|step "lid": unknown key "does"; known here: `}},
	{"unknown key of a point", `from_pass = 2`, `from_pas = 2`, []string{
		`from_pas = 2|step "guide", point "left.now": unknown key "from_pas"`}},
	{"wrong type", `version = 1`, `version = "one"`, []string{`"one"|version is a text, want a number`}},
	{"a date", `title = "Lid"`, `title = 2020-01-01`, []string{`2020-01-01|step "lid": title is a date or time, want a text`}},
	{"no whole number", `from_pass = 2`, `from_pass = 2.5`, []string{`2.5|step "guide", point "left.now": from_pass is "2.5", want a whole number from 1 to 99`}},
	{"bad quantity", `value = "0.050 in"`, `value = "0.050 furlong"`, []string{`"0.050 furlong"|engine data "clearance": value: "0.050 furlong": "furlong" is not a unit`}},
	{"unit of the wrong kind in engine data", `value = "0.050 in"`, `value = "0.050 in"` + "\nkind = \"mass\"", []string{
		`"0.050 in"|engine data "clearance": value: "0.050 in": "in" is not a unit that fits: a unit of length, want mass`}},
	{"engine data of the wrong kind", `value = "0.050 in"`, `value = "12 deg"`, []string{
		`"@engine.clearance"|step "guide": input clearance: "@engine.clearance" is angle, want length`}},
	{"constant of the wrong kind", `"@engine.clearance"`, `"12 deg"`, []string{`"12 deg"|step "guide", compute, inputs: clearance: "12 deg": "deg" is not a unit that fits: a unit of angle, want length`}},
	{"bare number", `"@engine.clearance"`, `12`, []string{`12|step "guide", compute, inputs: clearance is the bare number 12, want a length with its unit, as "12 mm"`}},
	{"not positive", `"@engine.clearance"`, `"-0.05 in"`, []string{`"-0.05 in"|step "guide", compute, inputs: clearance is -0.05 in, want more than nothing`}},
	{"list for one quantity", `"@engine.clearance"`, `"@engine.shim_list"`, []string{`"@engine.shim_list"|step "guide": input clearance: "@engine.shim_list" gives a list of quantities (length), want one length`}},
	{"word for a quantity", `"@engine.clearance"`, `"@engine.thread"`, []string{`"@engine.thread"|step "guide": input clearance: "@engine.thread" gives a word, want one length`}},
	{"unknown method", `method = "contact-clearance"`, `method = "guess"`, []string{`"guess"|step "guide", compute: no method "guess"`}},
	{"input the method has not", `clearance = "@engine.clearance"`, "clearance = \"@engine.clearance\"\ngap = \"1 mm\"", []string{
		`gap = |step "guide", compute, inputs: the method contact-clearance has no input "gap"; it has protrusion, `}},
	{"required input missing", `clearance = "@engine.clearance"`, ``, []string{
		`inputs]|step "guide", compute, inputs: the method contact-clearance needs the input clearance: `}},
	{"word of an enum", `clearance = "@engine.clearance"`, "clearance = \"@engine.clearance\"\nside = \"top\"", []string{
		`"top"|step "guide", compute, inputs: side is "top", want one of: cam outside`}},
	{"limits the wrong way round", `lower = "0.048 in", upper = "0.052 in"`, `lower = "0.052 in", upper = "0.048 in"`, []string{
		`"0.052 in"|step "guide", compute, limits, clearance_now: the limits are the wrong way round: lower "0.052 in" is not below upper "0.048 in"`}},
	{"limit on an undeclared figure", `clearance_now = { lower`, `gap = { lower`, []string{
		`"clearance_now"|step "guide", compute, approach: figure "clearance_now" has no limits here`,
		`gap = {|step "guide", compute, limits: contact-clearance has no figure "gap"; it has contact, `}},
	{"limit of the wrong kind", `lower = "0.048 in"`, `lower = "4 N"`, []string{`"4 N"|step "guide", compute, limits, clearance_now: lower: "4 N": "N" is not a unit that fits: a unit of force, want length`}},
	{"customary limit unconfirmed", `upper = "0.052 in", source = "builder's choice"`, `upper = "0.052 in", source = "common practice"`, []string{
		`"common practice"|step "guide", compute, limits, clearance_now: a limit of common practice must be engine data`}},
	{"customary value unconfirmed", `source = "builder's choice"` + "\n\n[engine.shim", `source = "common practice"` + "\n\n[engine.shim", []string{
		`"common practice"|engine data "clearance": a value of common practice must be confirmed by the builder: add confirm = true`}},
	{"limit from nowhere", `lower = "0.048 in"`, `lower = "@engine.least"`, []string{`"@engine.least"|step "guide", compute, limits, clearance_now: lower: there is no [engine.least]`}},
	{"shown figure unknown", `shown = ["move"]`, `shown = ["moved"]`, []string{`"moved"|step "guide", compute: contact-clearance has no figure "moved"`}},
	{"dangling needs", `needs = ["guide"]`, `needs = ["guides"]`, []string{`"guides"|step "lid": needs "guides", but there is no such step`}},
	{"needs a later step", `needs = ["guide"]`, `needs = ["close"]`, []string{`"close"|step "lid": needs "close", which comes later in the plan`}},
	{"needs itself", `needs = ["guide"]`, `needs = ["lid"]`, []string{`"lid"|step "lid": a circle of steps that wait for each other: lid → lid`}},
	{"dangling reading", `"@reading:{cylinder}.contact"`, `"@reading:{cylinder}.contakt"`, []string{
		`"@reading:{cylinder}.contakt"|step "guide": input protrusion: "@reading:left.contakt": step "guide" has no point "left.contakt"`}},
	{"dangling engine data", `"@engine.clearance"`, `"@engine.clearence"`, []string{`"@engine.clearence"|step "guide": input clearance: "@engine.clearence": there is no [engine.clearence]`}},
	{"dangling figure", `"@engine.clearance"`, `"@figure:deck.deck"`, []string{`"@figure:deck.deck"|step "guide": input clearance: "@figure:deck.deck": there is no step "deck"`}},
	{"figure of a later step", `"@engine.clearance"`, `"@figure:close.deck"`, []string{
		`"@figure:close.deck"|step "guide": refers to "@figure:close.deck", which comes later in the plan`,
		`"@figure:close.deck"|step "guide": input clearance: "@figure:close.deck": step "close" computes nothing`}},
	{"circle of a figure and a need", `"@engine.clearance"`, `"@figure:lid.deck"`, []string{
		`"@figure:lid.deck"|step "guide": input clearance: "@figure:lid.deck": step "lid" computes nothing`,
		`"guide"]|step "lid": a circle of steps that wait for each other: guide → lid → guide`}},
	{"no reference at all", `"@engine.clearance"`, `"@motor.clearance"`, []string{`"@motor.clearance"|step "guide", compute, inputs: input clearance: "@motor.clearance" is not a reference`}},
	{"variable of nothing", `"@reading:{cylinder}.contact"`, `"@reading:{side}.contact"`, []string{`"@reading:{side}.contact"|step "guide", compute, inputs: input protrusion: {side} in "@reading:{side}.contact" stands for nothing here`}},
	{"variable of nothing in a text", `title = "Lid"`, `title = "Lid {cylinder}"`, []string{`"Lid {cyl|step "lid": title: {cylinder} stands for nothing here; nothing is expanded here`}},
	{"question mark forgotten", `now?`, `now`, []string{`"@reading:{cylinder}.now"|step "guide": input now: "@reading:left.now": it is read from pass 2 on; write "@reading:{cylinder}.now?"`}},
	{"prior without question mark", `"@reading:{cylinder}.now?"`, `"@prior:{cylinder}.now"`, []string{`"@prior:|step "guide": input now: "@prior:left.now": there is no pass before the first`}},
	{"approach to no point", `point = "{cylinder}.now" }`, `point = "{cylinder}.then" }`, []string{`"{cylinder}.then"|step "guide": approach: the step has no point "left.then"`}},
	{"two steps of one id", `id = "lid"`, `id = "guide"`, []string{
		`"lid", out|step "guide": keep_until names "lid", but there is no such step`,
		`"guide"` + "\ntitle = \"Lid\"" + `|step "guide": a second step of this id`}},
	{"two points of one id", `id = "{cylinder}.now"`, `id = "{cylinder}.contact"`, []string{
		`"{cylinder}.contact"` + "\nfrom_pass" + `|step "guide": a second point "left.contact"`,
		`"{cylinder}.now" }|step "guide": approach: the step has no point "left.now"`,
		`"@reading:{cylinder}.now?"|step "guide": input now: "@reading:left.now": step "guide" has no point "left.now"`}},
	{"id does not name what it is written out for", `id = "{cylinder}.now"`, `id = "now"`, []string{
		`"now"|step "guide": a second point "now"`, `"{cylinder}.now" }|`, `"@reading:{cylinder}.now?"|`}},
	{"out that never went in", `out = ["cover"]`, `out = ["lid"]`, []string{
		`{ name = "cover"|step "guide": item "cover" goes in and no step takes it out`,
		`"lid"]|step "cover-out": "lid" comes out, but no step puts it in`}},
	{"keep until no step", `keep_until = "lid"`, `keep_until = "lids"`, []string{`"lids"|step "guide": keep_until names "lids", but there is no such step`}},
	{"out before no step", `out_before = "close"`, `out_before = "shut"`, []string{`"shut"|step "guide": out_before names "shut", but there is no such step`}},
	{"out too early", `keep_until = "lid"`, `keep_until = "close"`, []string{`"cover"]|step "cover-out": "cover" comes out here, but must stay until step "close" is done`}},
	{"out too late", `out_before = "close"`, `out_before = "lid"`, []string{`"cover"]|step "cover-out": "cover" comes out here, but step "lid" may not begin while it is in`}},
	{"ends no step", `ends = "close"`, `ends = "shut"`, []string{`"shut"|step "guide": ends names "shut", but there is no such step`}},
	{"loose for ever", `loose = [{ name = "nut", ends = "close" }]`, `loose = [{ name = "nut" }]`, []string{`{ name = "nut" }|step "guide": "nut" is left loose and no step makes it fast`}},
	{"ends what nobody left", `out = ["cover"]`, "out = [\"cover\"]\nends = [\"bolt\"]", []string{`"bolt"]|step "cover-out": ends "bolt", but no step leaves it loose`}},
	{"phase goes back", `phase = "final"`, `phase = "dry"`, []string{`"dry"|step "close": phase dry after a step of phase wash`}},
	{"unknown phase", `phase = "final"`, `phase = "last"`, []string{`"last"|step "close": phase is "last", want one of dry, wash, final`}},
	{"control character", `title = "Lid"`, `title = "Lid\u0007"`, []string{`"Lid\u0007"|step "lid": title holds the character U+0007, which is not for print`}},
	{"writing turned round", `title = "Lid"`, `title = "Lid\u202e"`, []string{`"Lid\u202e"|step "lid": title holds the character U+202E`}},
	{"over-long", `title = "Lid"`, `title = "` + strings.Repeat("x", 161) + `"`, []string{`"xxx|step "lid": title has 161 characters; at most 160`}},
	{"over-long key", `title = "Lid"`, strings.Repeat("x", 65) + ` = "Lid"`, []string{`xxx|a key of more than 64 characters or 16 parts`}},
	{"nested without end", `title = "Lid"`, `title = ` + strings.Repeat("[", 5000) + strings.Repeat("]", 5000), []string{`title|nested more than 16 deep`}},
	{"empty", `title = "Lid"`, `title = ""`, []string{`""|step "lid": title is empty`}},
	{"upper case", `id = "lid"`, `id = "Lid"`, []string{
		`"lid", out|step "guide": keep_until`, `"Lid"|step "Lid": id "Lid" may hold only lower-case letters, digits and "-"`}},
	{"proof without its final step", `needs = ["guide"]`, "needs = [\"guide\"]\nproof = true", []string{`true|step "lid": no later step measures this proof again: add one with again = "lid"`}},
	{"again of nothing", `phase = "final"`, "phase = \"final\"\nagain = \"nothing\"", []string{`"nothing"|step 4: again = "nothing": there is no such step before this one`}},
	{"again of no proof", `phase = "final"`, "phase = \"final\"\nagain = \"lid\"", []string{`"lid"|step "close": again = "lid", but that step is not marked proof = true`}},
	{"trace without angle gauge", `mode = "press"`, `mode = "trace"`, []string{`{ mode = "trace"|step "guide", capture: a trace pairs two gauges`}},
	{"nothing to confirm", `confirms = [{ id = "seen", text = "Seen." }]`, ``, []string{`step]]|step "lid": a check step without readings asks for something to confirm`}},
	{"too many points", `id = "{cylinder}.now"`, `along = { a = ["` + strings.Repeat(`1","`, 99) + `1"], b = ["` + strings.Repeat(`1","`, 99) + `1"] }` + "\nid = \"{cylinder}.now\"",
		[]string{`{ a = [|step "guide", point, along: more than 2000 points`, `"{cylinder}.now" }|`, `"@reading:{cylinder}.now?"|`}},
	{"no cylinders", `cylinders = ["left", "right"]`, `cylinders = []`, []string{`cylinders|cylinders is empty`}},
	{"cylinder twice", `cylinders = ["left", "right"]`, `cylinders = ["left", "left"]`, []string{`"left"]|cylinders names "left" twice`}},
}

func TestFaultsAreNamedWithTheirPlace(t *testing.T) {
	if _, err := plan.Parse("test", []byte(sound)); err != nil {
		t.Fatalf("the plan the cases start from has faults:\n%v", err)
	}
	for _, c := range faultCases {
		t.Run(c.name, func(t *testing.T) {
			if strings.Count(sound, c.old) < 1 {
				t.Fatalf("%q is not in the plan", c.old)
			}
			text := strings.Replace(sound, c.old, c.new, 1)
			_, err := plan.Parse("test", []byte(text))
			var fs plan.Faults
			if !errors.As(err, &fs) {
				t.Fatalf("error is %v, want plan.Faults", err)
			}
			if len(fs) != len(c.want) {
				t.Fatalf("got %d faults, want %d:\n%v", len(fs), len(c.want), err)
			}
			lines := strings.SplitAfter(text, "\n")
			for i, f := range fs {
				at, says, _ := strings.Cut(c.want[i], "|")
				if stands := strings.Join(lines[f.Line-1:], "")[f.Column-1:]; !strings.HasPrefix(stands, at) {
					t.Errorf("fault %d is said to be at %d:%d, where %.20q stands; want %q", i+1, f.Line, f.Column, stands, at)
				}
				if want := fmt.Sprintf("test:%d:%d: %s", f.Line, f.Column, says); !strings.HasPrefix(f.Error(), want) {
					t.Errorf("fault %d:\n got %s\nwant %s…", i+1, f, want)
				}
			}
		})
	}
}

// However hostile a file is, it is refused before it costs much; what is refused is said.
func TestHostileFiles(t *testing.T) {
	point := "[[step.point]]\nid = \"p\"\n"
	var keys strings.Builder
	for i := range 40000 {
		fmt.Fprintf(&keys, "k%d = 1\n", i)
	}
	for _, c := range []struct{ name, text, want string }{
		{"ten thousand points", sound + strings.Repeat(point, 10000), "point has 10000 elements; at most 2001"},
		{"many keys", keys.String(), "more than 2001 keys in one table"},
		{"long dotted key", strings.Repeat("a.", 100000) + "a = 1", "a key of more than 64 characters or 16 parts"},
		{"deep lists", "a = " + strings.Repeat("[", 200000), "nested more than"},
		{"large", "# " + strings.Repeat("x", 1<<19), "the file has 524290 bytes; at most 524288 are read"},
		{"no text at all", "\xff\xfe\x00", "not TOML"},
		{"nothing", "", "the plan has no [[step]]"},
		{"wrong from the root", "step = 1\nengine = [2]\ncylinders = { a = 1 }\ntitle = [\"x\"]", "step is a number, want a list"},
	} {
		p, err := plan.Parse("test", []byte(c.text))
		if p != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s", c.name, err, c.want)
		}
	}
}

// Several faults of different places come in one go, in the order of the file.
func TestAllFaultsAtOnce(t *testing.T) {
	text := strings.NewReplacer(`version = 1`, `version = 0`, `needs = ["guide"]`, `needs = ["guides"]`, `"@engine.clearance"`, `"12 deg"`).Replace(sound)
	_, err := plan.Parse("plans/test.toml", []byte(text))
	var fs plan.Faults
	if !errors.As(err, &fs) {
		t.Fatalf("error is %v, want Faults", err)
	}
	type place struct {
		Line, Column int
		Path         string
	}
	var got []place
	for _, f := range fs {
		got = append(got, place{f.Line, f.Column, f.Path})
	}
	want := []place{{2, 11, "version"}, {45, 13, "step[1].compute.inputs.clearance"}, {57, 10, "step[2].needs[1]"}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("places (-want +got):\n%s\n%v", d, err)
	}
}
