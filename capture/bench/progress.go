package bench

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/capture/plan"
)

// Progress is how far a step is.
type Progress string

// The states of a step.
const (
	Untouched Progress = "to do"
	Begun     Progress = "begun"
	Measured  Progress = "measured" // every reading of the pass is there, but the verdict is not in, or a next pass is wanted
	Done      Progress = "done"
	SignedOff Progress = "signed"
	Stale     Progress = "reopened"
	LeftOut   Progress = "left out" // of this build, with a reason
)

// Settled reports whether nothing more is to be done: what comes after may go on.
func (p Progress) Settled() bool { return p == Done || p == SignedOff || p == LeftOut }

// ProgressOf tells how far a step of a build is, from its state and the results in force.
func ProgressOf(b *Build, step plan.Step, results Results) Progress {
	st := b.Step(step.ID)
	switch {
	case step.LeftOut != "":
		return LeftOut
	case st.Signed != nil:
		return SignedOff
	case len(st.Reopened) > 0 && (st.Last() == nil || st.Last().Opened.N < st.Reopened[len(st.Reopened)-1].N):
		return Stale
	}
	if _, open := b.openAsk(step); open {
		return begun(st)
	}
	for _, c := range step.Confirms {
		if _, ok := st.Confirmed[c.ID]; !ok {
			return begun(st)
		}
	}
	for _, it := range step.Items {
		if !everIn(b, step.ID, it.Name) {
			return begun(st)
		}
	}
	for _, name := range step.Out {
		if isInside(b, name) {
			return begun(st)
		}
	}
	if len(step.Points) == 0 && step.Compute != nil {
		return judged(b, step, results, 0)
	}
	if len(step.Points) == 0 {
		if len(step.Confirms)+len(step.Items)+len(step.Out)+len(step.Asks) > 0 || st.Entered && st.Acknowledged {
			return Done
		}
		return begun(st)
	}
	p := st.InForce()
	if p == nil || st.Last() != p {
		return begun(st)
	}
	more := p.Number < step.Passes() && !b.PassedOver(step.ID) // a later pass asks for points that this one does not
	how := Done
	if step.Compute != nil {
		how = judged(b, step, results, p.Number)
	}
	if more && how == Done {
		return Measured
	}
	return how
}

// signable reports whether a step may be signed: it is done, or it was opened again and, because nothing is read in it, its
// signature is what says that it was looked at once more.
func signable(b *Build, step plan.Step, results Results) bool {
	p := ProgressOf(b, step, results)
	if p != Stale || len(step.Points) > 0 {
		return p == Done
	}
	c, st := *b, *b.Step(step.ID)
	st.Reopened = nil
	c.Steps = maps.Clone(b.Steps)
	c.Steps[step.ID] = &st
	return ProgressOf(&c, step, results) == Done
}

// judged is how far a step is whose readings are all there.
func judged(b *Build, step plan.Step, results Results, pass int) Progress {
	v, whole := results.Verdict(b, step, pass)
	switch {
	case !whole:
		return begun(b.Step(step.ID))
	case v == calc.VerdictIn || v == calc.NoVerdict || b.PassedOver(step.ID):
		return Done
	}
	return Measured
}

func begun(st *StepState) Progress {
	if st.Entered || len(st.Passes) > 0 || len(st.Confirmed) > 0 {
		return Begun
	}
	return Untouched
}

// PassedOver reports whether somebody decided, with a reason, to go on in spite of a step's verdict.
func (b *Build) PassedOver(step string) bool { return b.overridden("verdict", step) }

func (b *Build) overridden(what, name string) bool {
	for _, o := range b.Overrides {
		if o.What == what && o.Name == name {
			return true
		}
	}
	return false
}

func everIn(b *Build, step, name string) bool {
	for _, t := range b.Tally {
		if t.Step == step && t.Name == name {
			return true
		}
	}
	return false
}

func isInside(b *Build, name string) bool {
	for _, t := range b.Tally {
		if t.Name == name && t.Out == nil {
			return true
		}
	}
	return false
}

// Hindrance says in words why a step may not be worked on yet, "" where nothing stands in its way: a step it needs, a
// hold point before it that is not signed, something still in the engine, something dropped.
func Hindrance(b *Build, step plan.Step, results Results) string {
	if b.Dropped != "" {
		return fmt.Sprintf("something dropped is not found: %s; find it, count it, say found", b.Dropped)
	}
	if step.LeftOut != "" {
		return fmt.Sprintf("left out of this build: %s; what was read in it stays (thoud plan edit %s --put-back %s)", step.LeftOut, b.Job, step.ID)
	}
	if b.overridden("needs", step.ID) {
		return hindranceByTally(b, step)
	}
	var missing []string
	for _, need := range step.Needs {
		s, ok := b.Plan.Step(need)
		if !ok {
			continue
		}
		if p := ProgressOf(b, s, results); !p.Settled() {
			missing = append(missing, fmt.Sprintf("%s (%s)", s.Title, p))
		}
	}
	missing = append(missing, waitsFor(b, step.SidesOf(""), results)...)
	missing = append(missing, b.unanswered(step)...)
	if len(missing) > 0 {
		return "first: " + strings.Join(missing, ", ")
	}
	if held, all := heldSides(b, step, results); all {
		return strings.Join(held, "; ")
	}
	at := b.Plan.Index(step.ID)
	for _, s := range b.Plan.Steps[:max(at, 0)] {
		if s.Hold && s.LeftOut == "" && b.Step(s.ID).Signed == nil && !b.overridden("hold", s.ID) {
			return fmt.Sprintf("hold point: %s must be signed first", s.Title)
		}
	}
	return hindranceByTally(b, step)
}

func hindranceByTally(b *Build, step plan.Step) string {
	for _, t := range b.Inside() {
		if t.OutBefore == step.ID && !b.overridden("tally", t.Name) {
			return fmt.Sprintf("still in the engine: %s, put in at %s; take it out and count it", plan.Called(t.Name), titleOf(b, t.Step))
		}
	}
	return ""
}

// Unconfirmed lists the customary engine data that must be confirmed before a step's first reading.
func Unconfirmed(b *Build, step plan.Step) []plan.Datum {
	var out []plan.Datum
	uses := b.Plan.Uses(step)
	if step.Data || b.asksFirst(step) {
		uses = b.Plan.Engine // all of them, on one page
	}
	for _, d := range uses {
		if d, _ = b.Datum(d.Name); d.Confirm {
			out = append(out, d)
		}
	}
	return out
}

// asksFirst reports whether a step is the first of a plan that has no step for its data: the build of an engine is asked
// for all of them there, before any work begins.
func (b *Build) asksFirst(step plan.Step) bool {
	return b.Engine != "" && b.Plan.Index(step.ID) == 0 && !slices.ContainsFunc(b.Plan.Steps, func(s plan.Step) bool { return s.Data })
}
