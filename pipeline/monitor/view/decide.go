package view

import (
	"fmt"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// decide says what to do now. The order is that of what stops the bench: a hindrance before a caution, a caution before
// data to confirm, a gauge before its zero, a zero before a reading.
func (w *work) decide() {
	v := w.v
	last := w.st.Last()
	switch {
	case bench.Hindrance(w.b, w.step, w.results) != "":
		v.Stage, v.Now = StageBlocked, Capital(bench.Hindrance(w.b, w.step, w.results))+"."
		if to := w.first(); to != "" {
			v.Actions = []Action{{Verb: bench.DoGoto, Label: "Go there", Key: "n", Primary: true, Step: to}}
		}
	case !w.st.Acknowledged && len(w.step.Cautions) > 0 && len(w.st.Passes) == 0:
		v.Stage, v.Now = StageCaution, "Before this step:"
		v.Actions = []Action{{Verb: bench.DoAcknowledge, Label: "Understood", Key: "k", Primary: true}}
	case len(bench.Unconfirmed(w.b, w.step)) > 0:
		d := bench.Unconfirmed(w.b, w.step)[0]
		v.Stage, v.Now = StageConfirm, d.Title+": "+d.Words()+"?"
		v.Why = "Source: " + d.Source + ". Confirm it, or change it for this build."
		v.Actions = []Action{{Verb: bench.DoConfirm, Label: "Confirm", Key: "c", Primary: true, Item: "engine." + d.Name},
			{Verb: bench.DoOverride, Label: "Change", Key: "", Item: d.Name, Asks: "value"}}
	case len(w.step.Points) == 0:
		w.decideByHand()
	case last != nil && last.Status != bench.PassIsOpen && w.askedOf(last.Number):
		w.decideAsked()
	case last != nil && last.Status == bench.PassIsClosed && w.awaited(last):
		v.Stage, v.Now = StageRead, "Wait: the result is on its way."
	case last != nil && last.Status == bench.PassIsClosed && w.settled(last):
		w.decideDone()
	case w.gauge == nil:
		v.Stage, v.Now = StageGauge, fmt.Sprintf("This step wants a gauge of the role %q: register one.", w.role())
	case !w.gauge.Open:
		v.Stage, v.Now = StageGauge, fmt.Sprintf("Gauge %s is not there. Plug it in and switch it on.", w.gauge.Name)
	case w.needsZero():
		v.Stage, v.Now = StageZero, sentence(w.step.At(w.point).Datum.Do, "Rest the gauge on its datum and zero it.")
		if g := w.gauge; g.Lost != "" && g.Zero == nil {
			v.Why = "The zero was lost: " + g.Lost + "."
		}
		v.Actions = []Action{{Verb: bench.DoZero, Label: "Zero", Key: "z", Primary: true}}
	case w.point == bench.DatumPoint:
		v.Stage, v.Now = StageDatum, "Back on the datum, do not zero: read it."
		v.Why = "The zero was set so: " + w.step.Datum.Do + " This reading closes the pass."
		w.offerTake()
	case w.point == "":
		v.Stage, v.Now = StageRead, "Every point of this pass is read."
	default:
		w.decideRead(last)
	}
}

// first is the step that must be seen to before this one: one it needs, a hold point, one that put something in.
func (w *work) first() string {
	for _, st := range w.b.Plan.Steps {
		if st.ID == w.step.ID {
			break
		}
		done := bench.ProgressOf(w.b, st, w.results)
		needed := contains(w.step.Needs, st.ID) && done != bench.Done && done != bench.SignedOff
		if needed || st.Hold && w.b.Step(st.ID).Signed == nil {
			return st.ID
		}
	}
	for _, t := range w.b.Inside() {
		if t.OutBefore == w.step.ID {
			for _, st := range w.b.Plan.Steps {
				if contains(st.Out, t.Name) {
					return st.ID
				}
			}
		}
	}
	return ""
}

func (w *work) decideRead(last *bench.Pass) {
	v := w.v
	v.Stage = StageRead
	if last != nil && last.Status == bench.PassIsClosed {
		v.Stage = StageMove
	}
	v.Now = w.step.Do
	if pt, ok := w.step.Point(w.point); ok && pt.Do != "" {
		v.Now = pt.Do
	}
	w.offerTake()
}

// offerTake puts forward the action that takes a reading in the mode of the point.
func (w *work) offerTake() {
	v := w.v
	switch w.mode() {
	case plan.Keyed:
		v.Entry = bench.DoKey
	case plan.Bracket:
		v.Entry = bench.DoBracket
		v.Why = "Type the largest blade that goes and the smallest that does not: 0.010 in 0.011 in"
	case plan.Highest, plan.Lowest, plan.Swing, plan.Trace:
		v.Actions = append(v.Actions, Action{Verb: bench.DoSweep, Label: "Begin the turn", Key: "t", Primary: true})
	default:
		if w.gauge != nil && w.gauge.Known == bench.KnownKeyed {
			v.Entry = bench.DoKey
			return
		}
		v.Actions = append(v.Actions, Action{Verb: bench.DoTake, Label: "Take", Key: "t", Primary: true})
	}
}

// decideByHand is for a step in which nothing is read: confirmations, things that go in and come out.
func (w *work) decideByHand() {
	v := w.v
	v.Now = w.step.Do
	if w.confirmNext() {
		return
	}
	for _, it := range w.step.Items {
		if !w.wasIn(it.Name) {
			v.Stage, v.Why = StageConfirm, "Goes in: "+insideWords(w.b, bench.TallyItem{Item: it})
			v.Actions = []Action{{Verb: bench.DoTallyIn, Label: "It is in", Key: "c", Primary: true, Item: it.Name}}
			return
		}
	}
	for _, name := range w.step.Out {
		for _, t := range w.b.Inside() {
			if t.Name == name {
				v.Stage, v.Why = StageConfirm, "Comes out: "+name
				v.Actions = []Action{{Verb: bench.DoTallyOut, Label: "It is out", Key: "c", Primary: true, Item: name}}
				return
			}
		}
	}
	w.decideDone()
}

func (w *work) confirmNext() bool {
	for _, c := range w.step.Confirms {
		if _, ok := w.st.Confirmed[c.ID]; !ok {
			w.v.Stage, w.v.Why = StageConfirm, Capital(strings.TrimSuffix(c.Text, "."))+"?"
			w.v.Actions = []Action{{Verb: bench.DoConfirm, Label: "Confirm", Key: "c", Primary: true, Item: c.ID}}
			return true
		}
	}
	return false
}

func (w *work) wasIn(name string) bool {
	for _, t := range w.b.Tally {
		if t.Step == w.step.ID && t.Name == name {
			return true
		}
	}
	return false
}

func (w *work) askedOf(pass int) bool {
	for _, q := range w.st.Questions {
		if q.Pass == pass {
			return true
		}
	}
	return false
}

// answerKeys are the keys of a question's choices, in order: side by side on the keyboard.
var answerKeys = []string{"y", "u", "i", "o", "p"}

func (w *work) decideAsked() {
	q := w.v.Asked[0]
	w.v.Stage, w.v.Now = StageAsk, q.Words
	for i, c := range q.Choices {
		a := Action{Verb: bench.DoAnswer, Label: Capital(c), Item: q.ID, Choice: c, Primary: i == 0}
		if i < len(answerKeys) {
			a.Key = answerKeys[i]
		}
		w.v.Actions = append(w.v.Actions, a)
	}
}

// decideDone is for a step with nothing left to read: what is to be confirmed, signed, or gone on from.
func (w *work) decideDone() {
	v := w.v
	if w.confirmNext() {
		return
	}
	if w.step.Hold && w.st.Signed == nil {
		v.Stage, v.Now = StageSign, "Hold point: look it over and sign."
		v.Actions = []Action{{Verb: bench.DoSign, Label: "Sign", Key: "s", Primary: true, Asks: "initials"}}
		return
	}
	v.Stage, v.Done = StageDone, true
	next := w.b.Plan.Index(w.step.ID) + 1
	if next < len(w.b.Plan.Steps) {
		v.Now = "Done. Next: " + w.b.Plan.Steps[next].Title + "."
		v.Actions = []Action{{Verb: bench.DoGoto, Label: "Next", Key: "n", Primary: true, Step: w.b.Plan.Steps[next].ID}}
		return
	}
	v.Now = "Done: this was the last step."
}

// usual adds what may always be done.
func (w *work) usual() {
	v := w.v
	has := func(verb string) bool {
		for _, a := range v.Actions {
			if a.Verb == verb || verb == bench.DoNext && a.Verb == bench.DoGoto {
				return true
			}
		}
		return false
	}
	add := func(a Action) {
		if !has(a.Verb) {
			v.Actions = append(v.Actions, a)
		}
	}
	if len(w.step.Points) == 0 || v.Stage == StageBlocked || v.Stage == StageCaution || v.Stage == StageConfirm && w.st.Last() == nil {
		return
	}
	if w.gauge != nil && w.gauge.Open && w.gauge.Known != bench.KnownKeyed {
		add(Action{Verb: bench.DoZero, Label: "Zero", Key: "z"})
	}
	if last := w.st.Last(); last != nil && len(last.Readings) > 0 {
		add(Action{Verb: bench.DoRetake, Label: "Retake", Key: "r"})
	}
	if last := w.st.Last(); last != nil && last.Status == bench.PassIsClosed {
		add(Action{Verb: bench.DoAgain, Label: "Again", Key: "a"})
		add(Action{Verb: bench.DoNext, Label: "Next", Key: "n"})
	}
}
