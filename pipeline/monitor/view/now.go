package view

import (
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// told puts what the bench waits for into the words and the stage of the page. What it waits for, and in which order, is
// the bench's to say.
func (w *work) told() {
	v := w.v
	now, first := bench.NowOf(w.sc)
	switch now {
	case bench.NowEarlier:
		v.Stage, v.Now = StageBlocked, sentence(Whole(w.hinders()), "Something else comes first.")
	case bench.NowCaution:
		v.Stage, v.Now = StageCaution, "Before this step:"
	case bench.NowData:
		w.data(bench.Unconfirmed(w.b, w.step))
	case bench.NowConfirm:
		v.Stage, v.Now = StageConfirm, w.confirmed(first)
	case bench.NowItemIn:
		v.Stage, v.Now, v.Why = StageConfirm, "Goes in: "+w.itemWords(first.Item)+".", w.step.Do
	case bench.NowItemOut:
		v.Stage, v.Now, v.Why = StageConfirm, "Comes out: "+w.outWords(first.Item)+".", w.step.Do
	case bench.NowAnswer:
		v.Stage = StageAsk
		if len(v.Asked) > 0 {
			v.Now = v.Asked[0].Words
		}
	case bench.NowResult:
		v.Stage, v.Now = StageWait, "Wait: the result is on its way."
		v.Why = Whole(w.sp.Why)
	case bench.NowSign:
		v.Stage, v.Now = StageSign, "Hold point: look it over and sign."
	case bench.NowNext:
		next, _ := w.b.Plan.Step(first.Place.Step)
		v.Stage, v.Done, v.Now = StageDone, true, "Done. Next: "+next.Title+"."
	case bench.NowLast:
		v.Stage, v.Done, v.Now = StageEnd, true, "Done: this was the last step. Look at the sheet, then close the build."
	case bench.NowGauge:
		v.Stage, v.Now = StageGauge, Whole(w.sp.Why)
	case bench.NowLine:
		v.Stage, v.Now = StageGauge, "Plug it in, or switch it on."
	case bench.NowZero:
		v.Stage, v.Now = StageZero, sentence(w.at.Datum.Do, "Rest the gauge on its datum and zero it.")
		if g := w.sp.Gauge; g != nil && g.Lost != "" && g.Zero == nil {
			v.Why = "The zero was lost: " + g.Lost + "."
		}
	case bench.NowDatum:
		v.Stage, v.Now = StageDatum, "Do not zero: read it."
		v.Why = "The zero was set so: " + w.at.Datum.Do + " This reading closes the pass."
	case bench.NowReading, bench.NowMove:
		v.Stage, v.Now = StageRead, bench.DoNow(w.step, w.sp.Place)
		if now == bench.NowMove {
			v.Stage = StageMove
		}
		w.typedWords(first)
	}
}

// hinders is what comes first, also where nothing is read in the step.
func (w *work) hinders() string {
	if len(w.step.Points) > 0 {
		return w.sp.Why
	}
	if why := bench.Hindrance(w.b, w.step, w.results); why != "" {
		return why
	}
	return bench.CureHindrance(w.b, w.step, w.sc.Moment())
}

// enginePage is where the values of an engine stand together.
const enginePage = "/engine"

// askedHere is how many values are asked for at the bench, one after the other; more of them are looked through together.
const askedHere = 7

// data tells of engine data that wait for somebody to say that they hold. Many stand together on the page of their engine;
// a few, and those of a build that names no engine, are asked for here.
func (w *work) data(open []plan.Datum) {
	v, d := w.v, open[0]
	v.Stage, v.Now = StageConfirm, d.Title+": "+d.Words()+"?"
	switch {
	case w.b.Engine == "":
		v.Why = "Source: " + d.Source + ". Confirm it, or change it for this build."
		v.Actions = append(v.Actions, Action{Verb: bench.DoOverride, Label: "Change", Item: d.Name, Asks: "value"})
	case len(open) <= askedHere:
		v.Why = "Source: " + d.Source + ". Confirm it, or change it on the Engine page."
		v.Actions = append(v.Actions, Action{Link: enginePage, Label: "Change"})
	default:
		v.Now = fmt.Sprintf("Confirm %d values of the engine.", len(open))
		v.Why = "They stand together on the Engine page. Change there what is not so."
		v.Actions = append(v.Actions, Action{Link: enginePage, Label: "Look through them", Key: "c", Primary: true})
	}
}

func (w *work) typedWords(first *bench.Verb) {
	switch {
	case first == nil:
		w.v.Why = "Press the gauge's own key."
	case first.Name == bench.DoBracket:
		w.v.Why = "Type the largest blade that goes and the smallest that does not: 0.010 in 0.011 in"
	}
}

// confirmed is the sentence of what is to be confirmed.
func (w *work) confirmed(first *bench.Verb) string {
	for _, c := range w.step.Confirms {
		if first != nil && c.ID == first.Item {
			return Capital(strings.TrimRight(c.Text, ".?")) + "?"
		}
	}
	return w.step.Do
}

// outWords names what comes out, and how many pieces of it are to be counted.
func (w *work) outWords(name string) string {
	for _, t := range w.b.Inside() {
		if t.Name == name {
			return pieces(t)
		}
	}
	return plan.Called(name)
}

func (w *work) itemWords(name string) string {
	for _, it := range w.step.Items {
		if it.Name == name {
			return insideWords(w.b, bench.TallyItem{Item: it})
		}
	}
	return plan.Called(name)
}

// keys are the keys of the verbs, as printed on the buttons.
var keys = map[string]string{
	bench.DoTake: "t", bench.DoSweep: "t", bench.DoZero: "z", bench.DoRetake: "r", bench.DoNext: "n", bench.DoGoto: "n", bench.DoAgain: "a",
	bench.DoAcknowledge: "k", bench.DoConfirm: "c", bench.DoTallyIn: "c", bench.DoTallyOut: "c", bench.DoSign: "s", bench.DoFound: "f",
}

// answerKeys are the keys of a question's choices, in order: side by side on the keyboard.
var answerKeys = []string{"y", "u", "i", "o", "p"}

// beside are the verbs whose buttons stand beside the first one, where they would be accepted.
var beside = []string{bench.DoZero, bench.DoRetake, bench.DoAgain, bench.DoNext}

// offer makes the buttons of what the bench would accept: first what it waits for.
func (w *work) offer(offers []bench.Offer) {
	v := w.v
	now, first := bench.NowOf(w.sc)
	others := v.Actions
	v.Actions = nil
	switch {
	case first == nil, now == bench.NowData && len(others) > 0 && others[0].Primary:
	case first.Name == bench.DoKey || first.Name == bench.DoBracket:
		v.Entry = first.Name
	case first.Name == bench.DoAnswer:
		w.answers(offers)
	default:
		a := action(*first)
		a.Primary = true
		switch now {
		case bench.NowNext:
			a.Label = "Next"
		case bench.NowStep:
			a.Label = "Begin"
		}
		v.Actions = append(v.Actions, a)
	}
	v.Actions = append(v.Actions, others...)
	if v.Stage == StageBlocked || v.Stage == StageCaution || v.Stage == StageAsk || v.Stage == StageConfirm && w.st.Last() == nil {
		offers = nil // one thing at a time
	}
	for _, name := range beside {
		if o, ok := bench.Offered(offers, name); ok && w.useful(name, now) && (first == nil || first.Name != name && (name != bench.DoNext || first.Name != bench.DoGoto)) {
			v.Actions = append(v.Actions, action(o.Verb))
		}
	}
	for i := range v.Actions {
		w.hands(&v.Actions[i])
	}
}

// useful reports whether a verb that would be accepted has a button here. What a hand would press only by mistake has none: a
// zero where no gauge is read against one, another pass where the next reading opens it by itself, the next step in the middle
// of this one. Who means it goes by the page of the steps.
func (w *work) useful(verb string, now bench.Now) bool {
	last := w.st.Last()
	switch verb {
	case bench.DoZero:
		reads := now == bench.NowReading || now == bench.NowMove || now == bench.NowDatum || now == bench.NowZero
		return reads && w.at.Datum != nil && w.sp.Gauge != nil && w.sp.Gauge.Known != bench.KnownKeyed
	case bench.DoAgain:
		return last != nil && last.Status == bench.PassIsClosed && now != bench.NowMove
	case bench.DoNext:
		return last == nil && now != bench.NowConfirm && now != bench.NowItemIn && now != bench.NowItemOut
	}
	return true
}

func (w *work) answers(offers []bench.Offer) {
	for _, o := range offers {
		if o.Verb.Name != bench.DoAnswer {
			continue
		}
		a := Action{Verb: bench.DoAnswer, Label: Capital(w.b.Plan.ChoiceWords(o.Verb.Item, o.Verb.Choice)), Item: o.Verb.Item, Choice: o.Verb.Choice, Primary: len(w.v.Actions) == 0}
		if n := len(w.v.Actions); n < len(answerKeys) {
			a.Key = answerKeys[n]
		}
		w.v.Actions = append(w.v.Actions, a)
	}
}

// action is the button of a verb.
func action(verb bench.Verb) Action {
	row, _ := bench.VerbOf(verb.Name)
	a := Action{Verb: verb.Name, Label: row.Button, Key: keys[verb.Name], Item: verb.Item, Choice: verb.Choice}
	if a.Label == "" {
		a.Label = Capital(verb.Name)
	}
	if verb.Place != nil {
		a.Step = verb.Place.Step
	}
	if slices.Contains(row.Gives, bench.GivesInitials) {
		a.Asks = "initials"
	}
	return a
}

// hands makes an action fit for hands that are busy: a zero stands apart and is asked about inside a pass, and what
// confirms something takes a press of its own.
func (w *work) hands(a *Action) {
	switch a.Verb {
	case bench.DoSweep:
		if row, _ := w.sp.Mode.Row(); !row.Paired {
			a.Label = "Begin the move" // a lever, a valve, a chain: only a trace is a turn with its angles
		}
	case bench.DoZero:
		a.Apart = !a.Primary
		if last := w.st.Last(); last != nil && last.Status == bench.PassIsOpen && keptWords(last) != "" {
			a.Sure = "Set the zero anew inside this pass? Only readings on the same zero count together."
		}
	case bench.DoConfirm, bench.DoAcknowledge, bench.DoSign, bench.DoTallyIn, bench.DoTallyOut, bench.DoAnswer, bench.DoFound:
		a.Slow = true
	}
}

// keptWords says what is kept of a pass while its gauge is gone.
func keptWords(p *bench.Pass) string {
	n := 0
	for _, r := range p.Readings {
		if !r.Withdrawn {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "The reading of this pass is kept."
	}
	return fmt.Sprintf("The %d readings of this pass are kept.", n)
}
