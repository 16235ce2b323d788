package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

const asking = head + `
[[step]]
id = "look"
title = "Look"
do = "Look at the flange."
phase = "dry"
kind = "check"
asks = [{ id = "holes", text = "Are screw holes there?", choice = ["none", "left", "both"] }]
` + "\n[[step]]\nid = \"drill\"\ntitle = \"Drill\"\nwhen = { holes = [\"none\", \"left\"] }\ndo = \"Read it.\"\nphase = \"dry\"\nkind = \"measure\"\ncapture = { role = \"caliper\" }\n" +
	"[[step.point]]\nid = \"left\"\nwhen = { holes = \"none\" }\n[[step.point]]\nid = \"right\"\n" + `
[[step]]
id = "fit"
title = "Fit"
do = "Fit it."
phase = "dry"
kind = "fit"
confirms = [{ id = "in", text = "It is in." }]
`

// What the plan asks is asked once, before anything that depends on it; the answer is kept, decides what stands, and is
// changed only with a reason.
func TestAPlanAsksOnceAndKeepsTheAnswer(t *testing.T) {
	p := newPlay(t, asking, dial("cal-1", "caliper"))
	if now, v := bench.NowOf(p.sc); now != bench.NowAnswer || v.Item != "holes" || v.Choice != "none" {
		t.Fatalf("the bench waits for %s, %+v", now, v)
	}
	if got := bench.StatusOf(p.sc, nil, nil).Asked; len(got) != 1 || got[0].Words != "Are screw holes there?" || len(got[0].Choices) != 3 {
		t.Errorf("asked: %+v", got)
	}
	choices := 0
	for _, o := range bench.Offers(p.sc) {
		if o.Verb.Name == bench.DoAnswer {
			choices++
		}
	}
	if choices != 3 {
		t.Errorf("%d choices are offered, want 3", choices)
	}
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "drill"}})
	if got := bench.StatusOf(p.sc, nil, nil).Hinders; got != "first: Look, which asks: Are screw holes there?" {
		t.Errorf("before the answer: %q", got)
	}
	if now, v := bench.NowOf(p.sc); now != bench.NowEarlier || v == nil || v.Place.Step != "look" {
		t.Errorf("before the answer: %s, %+v", now, v)
	}
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "look"}})
	if words := p.no(bench.Verb{Name: bench.DoAnswer, Choice: "some"}); words != `"some" is no answer to it: want none, left, both` {
		t.Errorf("%q", words)
	}
	p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "left"})
	b, step := p.sc.State.Current()
	if bench.ProgressOf(b, *step, p.sc.Results) != bench.Done {
		t.Error("answered, the step is not done")
	}
	if drill, _ := b.Plan.Step("drill"); len(drill.Points) != 1 || drill.Points[0].ID != "right" {
		t.Errorf("with a hole on the left there are read: %+v", drill.Points)
	}
	if words := p.no(bench.Verb{Name: bench.DoAnswer, Item: "holes", Choice: "both"}); !strings.Contains(words, "only with a reason") {
		t.Errorf("%q", words)
	}
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "drill"}})
	p.take("cal-1", "8.00 mm")
	p.ok(bench.Verb{Name: bench.DoAnswer, Item: "holes", Choice: "none", Reason: "looked at the wrong flange"})
	b, _ = p.sc.State.Current()
	if drill, _ := b.Plan.Step("drill"); len(drill.Points) != 2 || b.Answers["holes"].Choice != "none" {
		t.Error("the answer was not changed")
	}
	if p.standing("right") != "8.00 mm" {
		t.Error("the reading taken before is lost")
	}
}
