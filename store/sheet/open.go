package sheet

import (
	"fmt"

	"thoud/calc"
	"thoud/capture/bench"
)

// fewData is how many unconfirmed values are named one by one; a build that has only begun has a hundred of them.
const fewData = 5

// open lists what is not settled, in words: the first thing to read on a sheet.
func open(s Sheet) []string {
	out := []string{}
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if s.Tally.Dropped != "" {
		say("something dropped and was not found: %s", s.Tally.Dropped)
	}
	for _, it := range s.Tally.Items {
		if it.Out == nil {
			say("still in the engine: %s (%d), put in at %s", it.Name, it.Count, it.Step)
		}
	}
	for _, l := range s.Tally.Loose {
		say("left loose: %s, since %s; made fast at %s", l.Name, l.Step, l.Ends)
	}
	var unconfirmed []Datum
	for _, d := range s.Data {
		if d.Open {
			unconfirmed = append(unconfirmed, d)
		}
	}
	if len(unconfirmed) > fewData {
		say("not confirmed: %d values of the engine data, marked in its table", len(unconfirmed))
	} else {
		for _, d := range unconfirmed {
			say("not confirmed: %s, %s", d.Title, d.Source)
		}
	}
	for _, st := range s.Steps {
		switch {
		case st.Progress == bench.Measured && st.Verdict == calc.VerdictTooClose:
			say("step %d, %s: too close to call", st.Number, st.Title)
		case st.Progress == bench.Measured:
			say("step %d, %s: %s of its limits", st.Number, st.Title, st.Verdict)
		case st.Progress == bench.Stale:
			say("step %d, %s: reopened, and not done again", st.Number, st.Title)
		case st.Progress == bench.LeftOut:
			say("step %d, %s: left out: %s", st.Number, st.Title, st.LeftOut)
		case st.Progress != bench.Done && st.Progress != bench.SignedOff:
			say("step %d, %s: %s", st.Number, st.Title, st.Progress)
		case st.Hold && st.Signed == nil:
			say("step %d, %s: a hold point that is not signed", st.Number, st.Title)
		}
	}
	for _, g := range s.Gauges {
		if g.Check != nil && g.Check.Over {
			say("gauge %s: its check was due on %.10s", g.Name, g.Check.Due)
		}
	}
	return out
}
