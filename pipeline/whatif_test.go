package pipeline_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/pipeline"
)

func (s *shop) scene() bench.Scene {
	return bench.Scene{State: s.state, Results: s.results, Now: int64(s.chain.N + 1), Boot: "boot"}
}

// keepAs does for good what a verb asks for, as the bench does: what was decided is written, its results are told, and the
// steps they reopen are reopened.
func (s *shop) keepAs(v bench.Verb) (reopened []string) {
	s.t.Helper()
	d, err := bench.Decide(s.scene(), v)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, e := range d.Entries {
		s.write(e)
		again, err := bench.Decide(s.scene(), bench.Computed{Results: s.last})
		if err != nil {
			s.t.Fatal(err)
		}
		for _, r := range again.Entries {
			s.write(r)
			reopened = append(reopened, r.Place.Step)
		}
	}
	return reopened
}

// What the preview shows is what happens once it is kept: results with figures, U, verdicts and orders, and the steps
// reopened. Whatever is changed, and several things at once.
func TestThePreviewIsWhatHappens(t *testing.T) {
	moved := 0
	rapid.Check(t, func(rt *rapid.T) {
		s := newEngineShop(t)
		if rapid.Bool().Draw(rt, "signed") {
			s.write(bench.Entry{Kind: bench.Signed, Place: bench.Place{Build: "17", Step: "guide-clearance"}, Initials: "ab"})
		}
		if rapid.Bool().Draw(rt, "another pass") {
			s.at(bench.PassOpened, "guide-clearance", 2)
		}
		var texts []string
		for _, name := range rapid.Permutation([]string{"engine.guide_clearance", "engine.guide_clearance_least", "guide_clearance_most"}).Draw(rt, "names")[:rapid.IntRange(1, 3).Draw(rt, "how many")] {
			texts = append(texts, fmt.Sprintf("%s=0.%03d in", name, rapid.IntRange(10, 70).Draw(rt, "thou")))
		}
		sup, err := bench.Suppose(s.scene(), "17", texts, true)
		if err != nil {
			if strings.Contains(err.Error(), "holds that already") {
				return
			}
			rt.Fatal(err)
		}
		was := s.results
		preview, after := pipeline.WhatIf(s.scene(), sup.Entries)
		if !s.results.Equal(was) {
			rt.Fatal("looking changed something")
		}
		var reopened []string
		for _, v := range sup.Keep {
			reopened = append(reopened, s.keepAs(v)...)
		}
		if diff := cmp.Diff(s.results.All(), after.Results.All()); diff != "" {
			rt.Fatalf("%v: kept, it is otherwise than shown (-kept +shown):\n%s", texts, diff)
		}
		var shown []string
		for _, r := range preview.Reopens {
			shown = append(shown, r.Step)
		}
		if fmt.Sprint(shown) != fmt.Sprint(reopened) {
			rt.Fatalf("reopened %v, shown %v", reopened, shown)
		}
		for _, f := range preview.Figures {
			moved++
			now := s.result(f.Step, f.Pass, f.Key)
			if got, ok := now.Figure(f.Figure); ok && (got.Shown != f.New.Shown || got.Verdict != f.New.Verdict) {
				rt.Fatalf("%s: shown %v %s, is %v %s", f.Figure, f.New.Shown, f.New.Verdict, got.Shown, got.Verdict)
			}
		}
	})
	if moved == 0 {
		t.Error("nothing ever changed: the property says nothing")
	}
}

// A reading that is supposed to be another changes what hangs on it, in its pass and downstream, and cannot be kept.
// Plane geometry: the height of contact is what the gauge reads there.
func TestASupposedReading(t *testing.T) {
	s := newEngineShop(t)
	sup, err := bench.Suppose(s.scene(), "17", []string{"guide-clearance/left.contact=0.2020 in"}, false)
	if err != nil {
		t.Fatal(err)
	}
	if len(sup.Keep) != 0 || len(sup.Loses) != 1 {
		t.Errorf("a reading can be kept: %+v", sup)
	}
	before := s.result("guide-clearance", 1, "left")
	preview, after := pipeline.WhatIf(s.scene(), sup.Entries)
	now, ok := after.Results.Get(before.Slot())
	if !ok || now.Provisional || len(preview.Figures) == 0 {
		t.Fatalf("nothing came of it: %+v", now)
	}
	was, is := figure(t, before, "contact"), figure(t, now, "contact")
	if math.Abs(was-is-0.010*25.4) > 1e-9 {
		t.Errorf("contact goes from %v to %v mm, want ten thou less", was, is)
	}
	if got := s.result("guide-clearance", 1, "left"); figure(t, got, "contact") != was {
		t.Error("what is recorded changed")
	}
}

// Limits can be supposed too; a verdict that turns says so.
func TestASupposedLimit(t *testing.T) {
	s := newEngineShop(t)
	r := s.result("guide-clearance", 1, "left")
	var name string
	for _, f := range r.Figures {
		if f.Limit != nil {
			name = f.Name
		}
	}
	if name == "" {
		t.Fatal("no figure of the step has limits")
	}
	sup, err := bench.Suppose(s.scene(), "17", []string{"limit.guide-clearance." + name + "=-1 in..1 in"}, false)
	if err != nil {
		t.Fatal(err)
	}
	preview, _ := pipeline.WhatIf(s.scene(), sup.Entries)
	turned := false
	for _, f := range preview.Figures {
		turned = turned || f.Turns && f.New.Verdict == calc.VerdictIn
	}
	if !turned {
		t.Errorf("with limits of an inch the verdict of %s does not turn: %+v", name, preview)
	}
}

// What cannot be supposed is refused in one sentence.
func TestWhatCannotBeSupposed(t *testing.T) {
	s := newEngineShop(t)
	for text, want := range map[string]string{
		"":                                   "supposes nothing",
		"engine.guide_clearance":             "supposes nothing",
		"engine.guide_claerance=0.02 in":     `did you mean "guide_clearance"`,
		"engine.guide_clearance=20 N":        "is a length",
		"engine.guide_clearance=0.050 mm":    "inches and millimetres look mixed up",
		"guide-clearance/left.strat=0.3 in":  "has no point",
		"guide-clearance/left.start=0.3 deg": "is 0.3000 in",
		"guide-claerance/left.start=0.3 in":  `did you mean "guide-clearance/left.start"`,
		"limit.guide-clearance.move=0.2 in":  `want both sides with ".." between`,
	} {
		if _, err := bench.Suppose(s.scene(), "17", []string{text}, false); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", text, err, want)
		}
	}
	if _, err := bench.Suppose(s.scene(), "18", []string{"engine.guide_clearance=0.02 in"}, false); err == nil {
		t.Error("a build that is not there")
	}
}
