package bench

import (
	"fmt"
	"slices"
	"strings"

	"thoud/capture/plan"
)

// What an override may change or pass over.
const (
	OverEngine  = "engine"  // engine data, for this build
	OverLimit   = "limit"   // of a figure, STEP.FIGURE
	OverNeeds   = "needs"   // the steps that should come first
	OverHold    = "hold"    // a hold point that is not signed
	OverVerdict = "verdict" // of a step
	OverTally   = "tally"   // where a temporary thing must be
	OverCure    = "cure"    // a time that is not over
)

// checkOverride refuses an override of what is not there.
func checkOverride(b *Build, o Override) error {
	switch o.What {
	case OverEngine:
		d, ok := b.Plan.Datum(o.Name)
		if !ok {
			return fmt.Errorf("no engine data %q in the plan", o.Name)
		}
		if d.Word != "" {
			return checkWord(d, o)
		}
		if o.Value == nil || o.Value.Kind() != d.Kind {
			return fmt.Errorf("%s is a %s: give a value of that kind", o.Name, d.Kind)
		}
	case OverNeeds, OverHold, OverVerdict, OverLimit:
	case OverCure:
		if !slices.ContainsFunc(b.Clocks, func(c Clock) bool { return c.Name == o.Name }) {
			return fmt.Errorf("no time %q runs", o.Name)
		}
	case OverTally:
		if !slices.ContainsFunc(b.Inside(), func(t TallyItem) bool { return t.Name == o.Name }) {
			return fmt.Errorf("%q is not in the engine", o.Name)
		}
	default:
		return fmt.Errorf("%q cannot be overridden: want engine, limit, needs, hold, verdict, tally or cure", o.What)
	}
	return nil
}

// checkWord refuses a word that engine data can't be.
func checkWord(d plan.Datum, o Override) error {
	if o.Word == "" {
		return fmt.Errorf("%s is a word: give one", o.Name)
	}
	if len(d.Choice) > 0 && !slices.Contains(d.Choice, o.Word) {
		return fmt.Errorf("%s can't be %q: want one of %s", o.Name, o.Word, strings.Join(d.Choice, ", "))
	}
	return nil
}

// wordOrValue keeps of what was given for engine data what that data is: a word or a quantity.
func wordOrValue(b *Build, o Override) Override {
	if d, ok := b.Plan.Datum(o.Name); ok && o.What == OverEngine && d.Word != "" {
		o.Value = nil
	} else {
		o.Word = ""
	}
	return o
}
