package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
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
	OverSetup   = "setup"   // how well a step is seated, as a standard uncertainty
)

// overridable is what each kind of override can be about: the names there are, and what it says that it changes.
type overridable struct {
	names func(*Build) []string
	empty string // said where there are no names at all
	was   func(*Build, Override) string
}

func overridables() map[string]overridable {
	return map[string]overridable{
		OverEngine:  {names: dataNames, empty: "the plan has no engine data", was: dataChange},
		OverLimit:   {names: limitNames, empty: "the plan limits no figure", was: limitChange},
		OverNeeds:   {names: stepsThat(func(s plan.Step) bool { return len(s.Needs)+len(s.Sides) > 0 }), empty: "no step needs another", was: passesOver("goes on without what %s needs")},
		OverHold:    {names: stepsThat(func(s plan.Step) bool { return s.Hold }), empty: "no step is a hold point", was: passesOver("goes on past the hold point %s, unsigned")},
		OverVerdict: {names: stepsThat(func(s plan.Step) bool { return s.Compute != nil }), empty: "nothing is computed in this plan", was: passesOver("goes on in spite of the verdict of %s")},
		OverTally:   {names: insideNames, empty: "nothing is in the engine", was: passesOver("%s may be where it is")},
		OverSetup:   {names: stepsThat(func(s plan.Step) bool { return len(s.Points) > 0 && s.Seatings < 2 }), empty: "every step is seated several times", was: setupChange},
		OverCure:    {names: clockNames, empty: "no time runs", was: passesOver("goes on before the time of %s is over")},
	}
}

// checkOverride refuses an override of what is not there, with the name that was probably meant; words says what it
// changes.
func checkOverride(b *Build, o Override) (words string, err error) {
	row, ok := overridables()[o.What]
	if !ok {
		return "", fmt.Errorf("%q cannot be overridden: want engine, limit, setup, needs, hold, verdict, tally or cure", o.What)
	}
	names := row.names(b)
	if !slices.Contains(names, o.Name) {
		return "", notThere(b, o, names, row.empty)
	}
	if o.What == OverEngine {
		if err := checkDatum(b, o); err != nil {
			return "", err
		}
	}
	if o.What == OverSetup {
		if err := checkSetup(b, o); err != nil {
			return "", err
		}
	}
	return row.was(b, o), nil
}

// checkSetup refuses what cannot be the set-up repeatability of a step.
func checkSetup(b *Build, o Override) error {
	step, _ := b.Plan.Step(o.Name)
	switch {
	case o.Value == nil || o.Value.Kind() != step.Capture.Kind:
		return fmt.Errorf("how well %s is seated is a %s: give a value of that kind", o.Name, step.Capture.Kind)
	case o.Value.Float() <= 0 || math.IsNaN(o.Dof) || o.Dof < 0:
		return fmt.Errorf("%s cannot be how well %s is seated: it is a standard uncertainty, above nothing", o.Value, o.Name)
	}
	return nil
}

func setupChange(b *Build, o Override) string {
	step, _ := b.Plan.Step(o.Name)
	was := "nothing was stated"
	if s := b.SetupOf(step); s.Value.Valid() {
		was = "it was " + s.Value.String()
	}
	if o.Dof > 0 {
		was += fmt.Sprintf("; found with %.0f degrees of freedom", o.Dof)
	}
	return fmt.Sprintf("%s is seated to %s, %s", o.Name, o.Value, was)
}

// checkDatum refuses what engine data can't be.
func checkDatum(b *Build, o Override) error {
	d, _ := b.Plan.Datum(o.Name)
	if d.Word != "" {
		return checkWord(d, o)
	}
	if o.Value == nil || o.Value.Kind() != d.Kind {
		return fmt.Errorf("%s is a %s: give a value of that kind", o.Name, d.Kind)
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

func notThere(b *Build, o Override, names []string, empty string) error {
	if len(names) == 0 {
		return fmt.Errorf("%s %q cannot be overridden: %s", o.What, o.Name, empty)
	}
	if _, ok := b.Plan.Step(o.Name); ok {
		switch o.What {
		case OverNeeds:
			return fmt.Errorf("%s needs nothing that could be passed over", o.Name)
		case OverHold:
			return fmt.Errorf("%s is no hold point", o.Name)
		}
	}
	if near := plan.Nearest(o.Name, names); near != "" {
		return fmt.Errorf("there is no %s %q; did you mean %q?", o.What, o.Name, near)
	}
	if o.What == OverTally {
		return fmt.Errorf("%q is not in the engine", o.Name)
	}
	return fmt.Errorf("there is no %s %q; there are %s", o.What, o.Name, strings.Join(names, ", "))
}

func dataNames(b *Build) []string {
	var out []string
	for _, d := range b.Plan.Engine {
		out = append(out, d.Name)
	}
	return out
}

// limitNames are the figures of a plan that have limits, as STEP.FIGURE, and those that could be given one.
func limitNames(b *Build) []string {
	var out []string
	for _, s := range b.Plan.Steps {
		if s.Compute == nil {
			continue
		}
		for figure := range s.Compute.Limits {
			out = append(out, s.ID+"."+figure)
		}
		if m, ok := calc.Find(s.Compute.Method); ok {
			for _, f := range m.Figures {
				if name := s.ID + "." + f.Name; !slices.Contains(out, name) {
					out = append(out, name)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}

func stepsThat(can func(plan.Step) bool) func(*Build) []string {
	return func(b *Build) []string {
		var out []string
		for _, s := range b.Plan.Steps {
			if can(s) {
				out = append(out, s.ID)
			}
		}
		return out
	}
}

func insideNames(b *Build) []string {
	var out []string
	for _, t := range b.Inside() {
		out = append(out, t.Name)
	}
	return out
}

func clockNames(b *Build) []string {
	var out []string
	for _, c := range b.Clocks {
		out = append(out, c.Name)
	}
	return out
}

func passesOver(words string) func(*Build, Override) string {
	return func(_ *Build, o Override) string { return fmt.Sprintf(words, o.Name) }
}

func dataChange(b *Build, o Override) string {
	d, _ := b.Datum(o.Name)
	now := o.Word
	if o.Value != nil {
		now = o.Value.String()
	}
	return fmt.Sprintf("%s: %s, it was %s", o.Name, now, d.Words())
}

func limitChange(b *Build, o Override) string {
	id, figure, _ := strings.Cut(o.Name, ".")
	step, _ := b.Plan.Step(id)
	return fmt.Sprintf("%s: %s, it was %s", o.Name, bounds(o.Lower, o.Upper), boundsOf(b.Limit(step, "", figure), o))
}

func bounds(lower, upper *quantity.Value) string {
	switch {
	case lower != nil && upper != nil:
		return lower.String() + " to " + upper.String()
	case lower != nil:
		return "at least " + lower.String()
	case upper != nil:
		return "at most " + upper.String()
	}
	return "no limit"
}

// boundsOf gives the limits in force in the unit and places of the new ones, a place finer.
func boundsOf(lim calc.Limit, o Override) string {
	like := o.Upper
	if like == nil {
		like = o.Lower
	}
	if like == nil {
		return "limited"
	}
	in := func(x *float64) *quantity.Value {
		if x == nil {
			return nil
		}
		places := like.Places + 1
		v, err := quantity.Make(int64(math.Round(like.Unit.FromBase(*x)*math.Pow10(places))), places, like.Unit)
		if err != nil {
			return nil
		}
		return &v
	}
	return bounds(in(lim.Lower), in(lim.Upper))
}
