package view

import (
	"testing"

	"thoud/capture/bench"
)

const askingStep = `
[[step]]
id = "wheels"
title = "Wheels on"
do = "Look at the wheel."
phase = "dry"
kind = "fit"
asks = [{ id = "keyway", text = "Which keyway is in use?", choice = ["0", "+"], said = ["straight (0)", "earlier (+)"] }]
confirms = [{ id = "nut", text = "Nut nipped." }]
`

// TestMarksOnButtonsAreWords: a button says what a keyway's mark means and sends the mark; the answer stands in the same words.
func TestMarksOnButtonsAreWords(t *testing.T) {
	p := play(t, planOf(askingStep))
	at := bench.Place{Build: "17", Step: "wheels"}
	p.add(bench.Entry{Kind: bench.StepEntered, Place: at})
	v := Of(p.scene(), nil)
	if len(v.Actions) < 2 || v.Actions[0].Label != "Straight (0)" || v.Actions[0].Choice != "0" || v.Actions[1].Label != "Earlier (+)" || v.Actions[1].Choice != "+" {
		t.Errorf("offered %+v", v.Actions)
	}
	e := bench.Entry{Kind: bench.Answered, Place: at, Item: "keyway", Choice: "+"}
	p.add(e)
	sc := p.scene()
	v = Of(sc, nil)
	if len(v.Answered) != 1 || v.Answered[0].Choice != "earlier (+)" || v.Answered[0].Others[0] != (Other{"0", "straight (0)"}) {
		t.Errorf("answered %+v", v.Answered)
	}
	if got := choiceWords(sc.State, e); got != "earlier (+)" {
		t.Errorf("in the ledger: %q", got)
	}
}
