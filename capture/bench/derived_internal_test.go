package bench

import (
	"testing"

	"thoud/capture/plan"
)

// TestWhatAValueFollowsFromIsReadable: a formula is told with its values, one that only turns the sign is not told at all, and
// no name of the plan's own is shown with its underscores.
func TestWhatAValueFollowsFromIsReadable(t *testing.T) {
	b := &Build{Plan: &plan.Plan{Engine: []plan.Datum{
		{Name: "hole_off", Title: "A hole may be off by", Word: "0.010 in"},
		{Name: "stroke", Title: "stroke", Word: "71 mm"},
	}}}
	for formula, want := range map[string]string{
		"- hole_off":   "A hole may be off by 0.010 in",
		"stroke / 2":   "stroke / 2 (stroke 71 mm)",
		"hole_off * 2": "hole off * 2 (A hole may be off by 0.010 in)",
		"":             "",
	} {
		if got := b.derivedWords(plan.Datum{Derived: formula}); got != want {
			t.Errorf("%q: follows from %q, want %q", formula, got, want)
		}
	}
}
