package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

func changingPlan() string {
	return head + stepText("bore", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")+pointText("right", "")) +
		stepText("height", `{ mode = "press", role = "indicator" }`, `needs = ["bore"]`, pointText("left", "")+pointText("right", "")) +
		stepText("late", `{ mode = "press", role = "indicator" }`, `needs = ["height"]`, pointText("left", ""))
}

func (p *play) changePlan(text, why string) bench.Verb {
	return bench.Verb{Name: bench.DoPlan, Reason: why, Build: &bench.Started{Job: "17", Text: text}}
}

func (p *play) changed(c plan.Change) string {
	p.tb.Helper()
	b, _ := p.sc.State.Build("17")
	text, err := plan.Changed("rules", []byte(b.Text), c)
	if err != nil {
		p.tb.Fatal(err)
	}
	return string(text)
}

// A step is left out in mid-build: its readings stay, the next step may begin, nothing more is read in it.
func TestAStepIsLeftOutWithItsReadingsInSight(t *testing.T) {
	p := newPlay(t, changingPlan(), dial("dial-1", "indicator"))
	p.take("dial-1", "0.1000 in")
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height"}})
	p.shows("dial-1", "0.2000 in")
	if words := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(words, "first: bore (begun)") {
		t.Fatalf("what comes first: %q", words)
	}
	words := p.ok(p.changePlan(p.changed(plan.Change{Step: "bore", Why: "The right barrel is sold.", LeaveOut: true}), "The right barrel is sold.")).Words
	if !strings.Contains(words, "left out: bore") {
		t.Errorf("said: %q", words)
	}
	b, _ := p.sc.State.Build("17")
	step, _ := b.Plan.Step("bore")
	if got := bench.ProgressOf(b, step, p.sc.Results); got != bench.LeftOut {
		t.Errorf("bore is %q", got)
	}
	if r, ok := b.Step("bore").Last().Standing("left", 1); !ok || r.Value.String() != "0.1000 in" {
		t.Errorf("its reading is gone: %v", r.Value)
	}
	if len(b.Changes) != 1 || b.Changes[0].Reason != "The right barrel is sold." {
		t.Errorf("the change is kept as %+v", b.Changes)
	}
	p.ok(bench.Verb{Name: bench.DoTake}) // height may be read now
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "bore"}})
	if words := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(words, "left out of this build: The right barrel is sold.") {
		t.Errorf("read in a step that is left out: %q", words)
	}
	p.ok(p.changePlan(p.changed(plan.Change{Step: "bore", Why: "It came back.", PutBack: true}), "It came back."))
	p.take("dial-1", "0.1010 in") // the right one: the pass goes on where it was
	if b, _ = p.sc.State.Build("17"); b.Step("bore").Last().Status != bench.PassIsClosed {
		t.Errorf("the pass is %s", b.Step("bore").Last().Status)
	}
}

// Nothing that was recorded loses its place, and each refusal says what, where, and what to do.
func TestAPlanThatWouldLoseSomethingIsRefused(t *testing.T) {
	p := newPlay(t, changingPlan(), dial("dial-1", "indicator"))
	p.take("dial-1", "0.1000 in")
	before := p.sc.State
	less := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", ""))
	for name, c := range map[string]struct{ text, why, want string }{
		"a step with readings":  {less, "x", `lacks the step "bore", in which job 17 has 1 reading: a step can't vanish`},
		"a point with readings": {strings.Replace(changingPlan(), `id = "left"`, `id = "middle"`, 1), "x", `lacks the point "left" of step "bore"`},
		"no reason":             {changingPlan() + "\n# more\n", "", "only with a reason"},
		"the same":              {changingPlan(), "x", "has this plan already"},
		"no plan":               {"title = 3", "x", "title is"},
		"nothing":               {"", "x", "no plan is given"},
	} {
		if words := p.no(p.changePlan(c.text, c.why)); !strings.Contains(words, c.want) {
			t.Errorf("%s: %q, want %q in it", name, words, c.want)
		}
	}
	if p.sc.State.N != before.N {
		t.Error("something was recorded")
	}
	p.ok(bench.Verb{Name: bench.DoBuildClose, Reason: "sold"})
	if words := p.no(p.changePlan(less, "x")); !strings.Contains(words, "job 17 is closed: its plan stays as it is") {
		t.Errorf("a closed build: %q", words)
	}
}

// A step that asks for other readings than those it was closed and signed with is opened again; one of which only the words
// changed is not. A pass that has all it asks for now is full.
func TestAChangedStepIsReadAgain(t *testing.T) {
	p := newPlay(t, changingPlan(), dial("dial-1", "indicator"))
	p.take("dial-1", "0.1000 in")
	p.take("dial-1", "0.1010 in")
	p.ok(bench.Verb{Name: bench.DoSign, Initials: "AB"})
	progress := func(id string) bench.Progress {
		b, _ := p.sc.State.Build("17")
		step, _ := b.Plan.Step(id)
		return bench.ProgressOf(b, step, p.sc.Results)
	}
	p.ok(p.changePlan(p.changed(plan.Change{Step: "bore", Why: "Clearer.", Set: map[string]string{"do": `"Read it at the top."`}}), "Clearer."))
	if got := progress("bore"); got != bench.SignedOff {
		t.Errorf("other words: bore is %q", got)
	}
	p.ok(p.changePlan(p.changed(plan.Change{Step: "bore", Why: "Taper feared.", Set: map[string]string{
		"point": `[{ id = "left", title = "left" }, { id = "right", title = "right" }, { id = "skirt", title = "skirt" }]`}}), "Taper feared."))
	if got := progress("bore"); got != bench.Stale {
		t.Errorf("another point: bore is %q", got)
	}
	b, _ := p.sc.State.Build("17")
	if why := b.Step("bore").Reopened[0].Reason; why != "the plan was changed: Taper feared." {
		t.Errorf("reopened because %q", why)
	}
	p.ok(bench.Verb{Name: bench.DoAgain})
	for _, v := range []string{"0.1000 in", "0.1010 in", "0.1020 in"} {
		p.take("dial-1", v)
	}
	if got := progress("bore"); got != bench.Done {
		t.Errorf("read again: bore is %q", got)
	}
	p.ok(bench.Verb{Name: bench.DoNext})
	p.take("dial-1", "0.2000 in")
	p.ok(p.changePlan(p.changed(plan.Change{Step: "height", Why: "One is enough.", Set: map[string]string{"point": `[{ id = "left", title = "left" }]`}}), "One is enough."))
	b, _ = p.sc.State.Build("17")
	if got := b.Step("height").Last().Status; got != bench.PassIsClosed {
		t.Errorf("the pass has all it asks for and is %s", got)
	}
}
