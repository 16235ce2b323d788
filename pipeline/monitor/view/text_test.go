package view

import (
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// TestASentenceHasOneStop: words that end with a question keep its mark alone, also where a step waits for an answer.
func TestASentenceHasOneStop(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	p := play(t, string(text))
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "screw-hole"}})
	if v := p.view(); !strings.HasSuffix(v.Now, "Which set screw holes are there already?") {
		t.Errorf("what comes first: %q", v.Now)
	}
	for words, want := range map[string]string{"": "", "it waits": "It waits.", "does it?": "Does it?", "It does.": "It does."} {
		if got := Whole(words); got != want {
			t.Errorf("%q: %q, want %q", words, got, want)
		}
	}
}
