package bench

import (
	"fmt"
	"slices"
)

// What an override may change or pass over.
const (
	OverEngine  = "engine"  // engine data, for this build
	OverLimit   = "limit"   // of a figure, STEP.FIGURE
	OverNeeds   = "needs"   // the steps that should come first
	OverHold    = "hold"    // a hold point that is not signed
	OverVerdict = "verdict" // of a step
	OverTally   = "tally"   // where a temporary thing must be
)

// checkOverride refuses an override of what is not there.
func checkOverride(b *Build, o Override) error {
	switch o.What {
	case OverEngine:
		d, ok := b.Plan.Datum(o.Name)
		if !ok {
			return fmt.Errorf("no engine data %q in the plan", o.Name)
		}
		if o.Value == nil || o.Value.Kind() != d.Kind {
			return fmt.Errorf("%s is a %s: give a value of that kind", o.Name, d.Kind)
		}
	case OverNeeds, OverHold, OverVerdict, OverLimit:
	case OverTally:
		if !slices.ContainsFunc(b.Inside(), func(t TallyItem) bool { return t.Name == o.Name }) {
			return fmt.Errorf("%q is not in the engine", o.Name)
		}
	default:
		return fmt.Errorf("%q cannot be overridden: want engine, limit, needs, hold, verdict or tally", o.What)
	}
	return nil
}
