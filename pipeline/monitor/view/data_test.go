package view

import (
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// The many values of an engine's first build are looked through together on the engine's page: the bench leads there with
// one press. Once they are in the record its next build leads nowhere. A build that names no engine is asked here.
func TestManyValuesAreLookedThroughTogether(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	at := func(p *played, job, engine string) View {
		p.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: job, Engine: engine, Plan: "pushrod-twin", Text: string(text)}})
		p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: job, Step: "ready"}})
		p.add(bench.Entry{Kind: bench.Acknowledged, Place: bench.Place{Build: job, Step: "ready"}})
		return p.view()
	}
	p := play(t, string(text))
	v := at(p, "18", "twin 4")
	if len(v.Actions) == 0 || v.Actions[0].Link != enginePage || !v.Actions[0].Primary || !strings.Contains(v.Now, "values of the engine") {
		t.Fatalf("the first build: %q, %+v", v.Now, v.Actions)
	}
	for _, a := range v.Actions {
		if a.Verb == bench.DoConfirm {
			t.Error("one of the values is asked for at the bench too")
		}
	}
	b, _ := p.state.Build("18")
	set := b.Asked()
	p.add(bench.Entry{Kind: bench.EngineValues, Engine: &set, By: "ab"})
	p.add(bench.Entry{Kind: bench.BuildClosed, Place: bench.Place{Build: "18"}})
	for _, a := range at(p, "19", "twin 4").Actions {
		if a.Link != "" {
			t.Errorf("the second build leads to %s", a.Link)
		}
	}
	if v := at(p, "20", ""); len(v.Actions) == 0 || v.Actions[0].Verb != bench.DoConfirm {
		t.Errorf("a build of no engine: %+v", v.Actions)
	}
}
