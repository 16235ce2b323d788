package bench

import (
	"slices"

	"thoud/capture/plan"
)

// Now is what the bench waits for.
type Now string

// What it can wait for, in the order of what stops it: something earlier before a caution, a caution before data to
// confirm, a gauge before its zero, a zero before a reading.
const (
	NowBuild   Now = "build"
	NowStep    Now = "step"
	NowEarlier Now = "earlier" // something else comes first
	NowCaution Now = "caution" // to be read
	NowData    Now = "data"    // a customary value is to be confirmed
	NowConfirm Now = "confirm"
	NowItemIn  Now = "item in"
	NowItemOut Now = "item out"
	NowAnswer  Now = "answer"
	NowResult  Now = "result" // it is being computed
	NowSign    Now = "sign"
	NowNext    Now = "next" // the step is done
	NowLast    Now = "last" // and it was the last one
	NowGauge   Now = "gauge"
	NowLine    Now = "line" // the gauge is not there
	NowZero    Now = "zero"
	NowDatum   Now = "datum"   // the closing reading
	NowReading Now = "reading" // of a point
	NowMove    Now = "move"    // move the part as told, then the next pass
)

// NowOf says what the bench waits for, and the verb that gives it. The verb is nil where a person or a gauge must do
// something else first.
func NowOf(sc Scene) (Now, *Verb) { return nowAt(sc, SpotOf(sc)) }

func nowAt(sc Scene, sp Spot) (Now, *Verb) {
	switch {
	case sp.Build == nil:
		return NowBuild, nil
	case sp.Step == nil || sp.Build.Closed:
		return NowStep, nil
	}
	b, step, st := sp.Build, *sp.Step, sp.State
	if sc.hindrance(b, step) != "" {
		if b.Dropped != "" {
			return NowEarlier, &Verb{Name: DoFound}
		}
		if to := FirstBefore(b, step, sc.Results); to != "" {
			return NowEarlier, &Verb{Name: DoGoto, Place: &Place{Build: b.Job, Step: to}}
		}
		return NowEarlier, nil
	}
	if !st.Acknowledged && len(step.Cautions) > 0 && len(st.Passes) == 0 {
		return NowCaution, &Verb{Name: DoAcknowledge}
	}
	if data := Unconfirmed(b, step); len(data) > 0 {
		return NowData, &Verb{Name: DoConfirm, Item: "engine." + data[0].Name}
	}
	if a, open := b.openAsk(step); open {
		return NowAnswer, &Verb{Name: DoAnswer, Item: a.ID, Choice: a.Choice[0]}
	}
	if len(step.Points) == 0 {
		return nowDone(sc, b, step, st)
	}
	if c := nextConfirm(firstConfirms(step), st); c != "" && len(st.Passes) == 0 {
		return NowConfirm, &Verb{Name: DoConfirm, Item: c}
	}
	for _, it := range step.Items {
		if it.First && len(st.Passes) == 0 && !everIn(b, step.ID, it.Name) {
			return NowItemIn, &Verb{Name: DoTallyIn, Item: it.Name}
		}
	}
	if last := st.Last(); last != nil && last.Status != PassIsOpen {
		for _, q := range st.Questions {
			if q.Pass == last.Number {
				return NowAnswer, &Verb{Name: DoAnswer, Item: q.ID, Choice: q.Choices[0]}
			}
		}
	}
	return nowReading(sc, sp)
}

// nowDone is for a step with nothing to read, or nothing left: confirmations, things that go in and come out, a signature.
func nowDone(sc Scene, b *Build, step plan.Step, st *StepState) (Now, *Verb) {
	if c := nextConfirm(step.Confirms, st); c != "" {
		return NowConfirm, &Verb{Name: DoConfirm, Item: c}
	}
	for _, it := range step.Items {
		if !everIn(b, step.ID, it.Name) {
			return NowItemIn, &Verb{Name: DoTallyIn, Item: it.Name}
		}
	}
	for _, name := range step.Out {
		if isInside(b, name) {
			return NowItemOut, &Verb{Name: DoTallyOut, Item: name}
		}
	}
	if st.Signed == nil && (step.Hold || len(step.Points) == 0 && ProgressOf(b, step, sc.Results) == Stale) {
		if !signable(b, step, sc.Results) {
			return NowSign, nil
		}
		return NowSign, &Verb{Name: DoSign}
	}
	if next, ok := nextStep(b, step); ok {
		return NowNext, &Verb{Name: DoGoto, Place: &Place{Build: b.Job, Step: next.ID}}
	}
	return NowLast, nil
}

// firstConfirms are those that are asked before the first reading: that the engine stands fast, that nothing can fire.
func firstConfirms(step plan.Step) []plan.Confirm {
	return slices.DeleteFunc(slices.Clone(step.Confirms), func(c plan.Confirm) bool { return !c.First })
}

func nextConfirm(of []plan.Confirm, st *StepState) string {
	for _, c := range of {
		if _, ok := st.Confirmed[c.ID]; !ok {
			return c.ID
		}
	}
	return ""
}

// nowReading is for a step with readings to take.
func nowReading(sc Scene, sp Spot) (Now, *Verb) {
	switch sp.Lacks {
	case LacksEarlier:
		if to := FirstBefore(sp.Build, *sp.Step, sc.Results); to != "" {
			return NowEarlier, &Verb{Name: DoGoto, Place: &Place{Build: sp.Build.Job, Step: to}}
		}
		return NowEarlier, nil
	case LacksResult:
		return NowResult, nil
	case LacksNothingMore:
		return nowDone(sc, sp.Build, *sp.Step, sp.State)
	case LacksAnswer:
		return NowAnswer, nil
	case LacksGauge:
		return NowGauge, nil
	case LacksLine:
		return NowLine, nil
	case LacksZero:
		return NowZero, &Verb{Name: DoZero, Gauge: sp.Gauge.Name}
	}
	now := NowReading
	switch last := sp.State.Last(); {
	case sp.OnDatum():
		now = NowDatum
	case last != nil && last.Status == PassIsClosed, sp.Anew:
		now = NowMove
	}
	switch {
	case sp.Mode == plan.Bracket:
		return now, &Verb{Name: DoBracket}
	case sp.Typed():
		return now, &Verb{Name: DoKey}
	case sp.Sweeps():
		return now, &Verb{Name: DoSweep}
	case sp.Gauge.Sends == SendsKey:
		return now, nil // its own key takes the reading
	}
	return now, &Verb{Name: DoTake}
}

// FirstBefore is the step that must be seen to before this one: one it needs, a hold point, one that takes something out;
// "" where there is none.
func FirstBefore(b *Build, step plan.Step, results Results) string {
	for _, s := range b.Plan.Steps[:max(b.Plan.Index(step.ID), 0)] {
		p := ProgressOf(b, s, results)
		if needs(b, step, s, results) && !p.Settled() && !b.overridden(OverNeeds, step.ID) {
			return s.ID
		}
		if slices.ContainsFunc(step.Awaits, func(id string) bool { return b.Answers[id].Choice == "" && asks(s, id) }) {
			return s.ID
		}
		if s.Hold && s.LeftOut == "" && b.Step(s.ID).Signed == nil && !b.overridden(OverHold, s.ID) && !b.overridden(OverNeeds, step.ID) {
			return s.ID
		}
	}
	for _, t := range b.Inside() {
		if t.OutBefore != step.ID || b.overridden(OverTally, t.Name) {
			continue
		}
		for _, s := range b.Plan.Steps {
			for _, out := range s.Out {
				if out == t.Name {
					return s.ID
				}
			}
		}
	}
	return ""
}

// needs reports whether a step waits for another one, or for a cylinder of it.
func needs(b *Build, step, other plan.Step, results Results) bool {
	return slices.Contains(step.Needs, other.ID) || slices.ContainsFunc(step.Sides, func(n plan.SideNeed) bool {
		return n.Step == other.ID && !DoneFor(b, other, n.Cylinder, results)
	})
}
