package pipeline_test

import (
	"math"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// newEngineShop begins a build of an engine on the first-fit plan, its first step read and counted.
func newEngineShop(t *testing.T) *shop {
	t.Helper()
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	s := &shop{t: t}
	s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath,
		Calibration: s.length("0.0002 in"), K: 2}})
	s.write(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: "twin 4", Plan: "first-fit", Text: string(text)}})
	s.contact()
	s.at(bench.PassClosed, "guide-clearance", 1)
	return s
}

// keep writes a value into the engine's record.
func (s *shop) keep(name, value string) {
	s.t.Helper()
	v := s.length(value)
	s.write(bench.Entry{Kind: bench.EngineValues, Engine: &bench.EngineSet{Engine: "twin 4", Values: []bench.EngineValue{{Name: name, Value: &v, Source: "measured"}}}})
}

// A value kept in the engine's record is computed with at once, and the result says why it is another.
func TestAValueOfTheRecordIsComputedWith(t *testing.T) {
	s := newEngineShop(t)
	s.keep("guide_clearance", "0.060 in")
	r := s.result("guide-clearance", 1, "left")
	if got, want := figure(t, r, "move"), 0.060*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move %v mm, want %v", got, want)
	}
	if !strings.Contains(r.Because, "0.060 in now, in the engine's record") || r.Was == nil {
		t.Errorf("why it changed: %q", r.Because)
	}
	s.keep("guide_clearance", "0.060 in")
	if len(s.last) != 0 {
		t.Errorf("stored %d results again with nothing changed", len(s.last))
	}
}

// A pass in force is computed again too while a newer one is being read: later steps use it.
func TestAValueOfTheRecordReachesThePassInForce(t *testing.T) {
	s := newEngineShop(t)
	s.at(bench.PassOpened, "guide-clearance", 2)
	s.keep("guide_clearance", "0.060 in")
	if got, want := figure(t, s.result("guide-clearance", 1, "left"), "move"), 0.060*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move of the pass in force %v mm, want %v", got, want)
	}
}

// A closed build's results stay as they are.
func TestAClosedBuildIsNotComputedAgain(t *testing.T) {
	s := newEngineShop(t)
	s.write(bench.Entry{Kind: bench.BuildClosed, Place: bench.Place{Build: "17"}})
	before := s.results
	s.keep("guide_clearance", "0.060 in")
	if len(s.last) != 0 || !s.results.Equal(before) {
		t.Errorf("%d results of a closed build were computed again", len(s.last))
	}
}
