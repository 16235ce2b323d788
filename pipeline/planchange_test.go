package pipeline_test

import (
	"math"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// A plan that is changed in mid-build has its figures computed again, and says why.
func TestAChangedPlanIsComputedAgain(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	s.at(bench.PassClosed, "guide-clearance", 1)
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(text), `value = "0.050 in"`) != 1 {
		t.Fatal("the plan's wanted clearance is not where this test looks for it")
	}
	s.write(bench.Entry{Kind: bench.PlanChanged, Reason: "a wilder cam", Place: bench.Place{Build: "17"},
		Build: &bench.Started{Job: "17", Plan: "first-fit", Text: strings.Replace(string(text), `value = "0.050 in"`, `value = "0.060 in"`, 1)}})
	r := s.result("guide-clearance", 1, "left")
	if got, want := figure(t, r, "move"), 0.060*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move %v mm, want %v", got, want)
	}
	if r.Because != "the plan was changed: a wilder cam" || r.Was == nil {
		t.Errorf("because %q", r.Because)
	}
	s.write(bench.Entry{Kind: bench.PlanChanged, Reason: "a word", Place: bench.Place{Build: "17"},
		Build: &bench.Started{Job: "17", Plan: "first-fit", Text: strings.Replace(string(text), `value = "0.050 in"`, `value = "0.060 in"`, 1) + "\n# a word\n"}})
	if len(s.last) != 0 {
		t.Errorf("%d results again, and nothing they use was changed", len(s.last))
	}
}

// The builder's own hands, once taken, stand in the uncertainty in place of what is stated.
func TestOwnHandsStandInTheUncertainty(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	s.at(bench.PassClosed, "guide-clearance", 1)
	before := s.result("guide-clearance", 1, "left")
	v := s.length("0.0100 in")
	s.write(bench.Entry{Kind: bench.Overridden, Reason: "own hands", Place: bench.Place{Build: "17", Step: "guide-clearance"},
		Override: &bench.Override{What: bench.OverSetup, Name: "guide-clearance", Value: &v, Dof: 16}})
	after := s.result("guide-clearance", 1, "left")
	u := func(r bench.Result) float64 {
		most := 0.0
		for _, f := range r.Figures {
			most = max(most, f.U)
		}
		return most
	}
	if u(after) < 2*0.0100*25.4 || u(before) > u(after) {
		t.Errorf("U was %v mm, is %v mm, with hands that seat to 0.254 mm", u(before), u(after))
	}
	if !strings.Contains(after.Because, "setup guide-clearance was overridden: own hands") {
		t.Errorf("because %q", after.Because)
	}
}
