package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// Two engines in turn: each goes on at the step and point where it was left, and a zero of the one counts on no other.
func TestEachBuildGoesOnWhereItWasLeft(t *testing.T) {
	text := head + stepText("look", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")) +
		stepText("height", `{ mode = "press", role = "indicator" }`, `datum = { do = "On the plate." }`, pointText("left", "")+pointText("middle", "")+pointText("right", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height"}})
	p.shows("dial-1", "0.0000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("dial-1", "0.1000 in")
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height", Point: "right"}}) // out of turn
	left := p.sc.State.Place
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "18", Plan: "rules", Text: text}})
	p.ok(bench.Verb{Name: bench.DoNext})
	p.shows("dial-1", "0.2000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	other := p.sc.State.Place

	words := p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "17"}}).Words
	if got := p.sc.State.Place; got != left {
		t.Errorf("job 17 goes on at %s, want %s", got, left)
	}
	if !strings.Contains(words, "job 17 is on the bench, at height, right") || !strings.Contains(words, "job 18 waits at height, left") {
		t.Errorf("the words do not say where both stand: %q", words)
	}
	if sp := bench.SpotOf(p.sc); sp.Lacks != bench.LacksZero {
		t.Errorf("the zero that was set on job 18 counts on job 17: lacks %q", sp.Lacks)
	}
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "18"}})
	if got := p.sc.State.Place; got != other {
		t.Errorf("job 18 goes on at %s, want %s", got, other)
	}
	p.ok(bench.Verb{Name: bench.DoBuildClose, Reason: "sold"})
	if words := p.no(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "18"}}); !strings.Contains(words, "job 18 is closed") {
		t.Errorf("a closed build: %q", words)
	}
	if words := p.no(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "rules", Text: text}}); !strings.Contains(words, "thoud bench 17") {
		t.Errorf("the advice names no command that does it: %q", words)
	}
}
