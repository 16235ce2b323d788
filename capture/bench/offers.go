package bench

import (
	"slices"
	"strconv"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Offer is a verb that would be accepted now. It is ready to be asked but for what a person Gives with it.
type Offer struct {
	Verb    Verb    `json:"verb"`
	Primary bool    `json:"primary,omitempty"` // what the bench waits for
	Gives   []Given `json:"gives,omitempty"`
}

// Offers lists the verbs that would be accepted now, one row a verb, what the bench waits for first. It asks Decide, so
// it cannot differ from what is done. Where a question is open each of its choices is a row.
func Offers(sc Scene) []Offer {
	sp := SpotOf(sc)
	_, first := nowAt(sc, sp)
	var out []Offer
	if first != nil {
		row, _ := VerbOf(first.Name)
		out = offersOf(sc, row, append([]Verb{*first}, row.drawn(sc, sp)...))
		if len(out) > 0 {
			out[0].Primary = true
		}
	}
	for _, row := range verbRows() {
		if first == nil || row.Name != first.Name {
			out = append(out, offersOf(sc, row, row.drawn(sc, sp))...)
		}
	}
	return out
}

// offersOf gives the first of some arguments that is accepted; of answers, every one that is.
func offersOf(sc Scene, row VerbRow, drawn []Verb) []Offer {
	var out []Offer
	for _, v := range drawn {
		v.Name = row.Name
		if _, err := row.decide(sc, v); err != nil {
			continue
		}
		o := Offer{Verb: bare(v), Gives: row.Gives}
		if v.Reason != "" && len(row.Gives) == 0 {
			o.Gives = []Given{GivesReason} // wanted here, though not always
		}
		if row.Name != DoAnswer {
			return []Offer{o}
		}
		if !slices.ContainsFunc(out, func(p Offer) bool { return p.Verb.Choice == v.Choice }) {
			out = append(out, o)
		}
	}
	return out
}

// bare takes out what a person gives: it was made up to ask with.
func bare(v Verb) Verb {
	b := Verb{Name: v.Name, Gauge: v.Gauge, Place: v.Place, Choice: v.Choice}
	if v.Name != DoDropped {
		b.Item = v.Item
	}
	return b
}

// Offered reports whether a verb would be accepted now, and gives its row.
func Offered(offers []Offer, verb string) (Offer, bool) {
	for _, o := range offers {
		if o.Verb.Name == verb {
			return o, true
		}
	}
	return Offer{}, false
}

// sampleReason stands for what a person would write.
const sampleReason = "reason"

func drawnPlain(Scene, Spot) []Verb { return []Verb{{}} }

func drawnReason(Scene, Spot) []Verb { return []Verb{{Reason: sampleReason}} }

func drawnItem(Scene, Spot) []Verb { return []Verb{{Item: "part"}} }

func drawnPicture(Scene, Spot) []Verb {
	return []Verb{{Picture: &Picture{Type: "image/png", Bytes: []byte{0}}}}
}

// drawnHere are the gauge that reads here, and where several could be meant each of them.
func drawnHere(sc Scene, sp Spot) []Verb {
	return append([]Verb{{}}, drawnGauges(sc, sp)...)
}

func drawnGauges(sc Scene, sp Spot) []Verb {
	var out []Verb
	if sp.Gauge != nil {
		out = append(out, Verb{Gauge: sp.Gauge.Name})
	}
	for _, g := range sc.State.Gauges {
		if !g.Removed {
			out = append(out, Verb{Gauge: g.Name})
		}
	}
	return out
}

// drawnTyped are values and blades of the kind that is wanted here, typed without a gauge's name and for each gauge.
func drawnTyped(sc Scene, sp Spot) []Verb {
	if sp.Step == nil {
		return nil
	}
	kind := sp.Step.Capture.Kind
	if kind == "" {
		kind = quantity.Length
	}
	unit := quantity.Metric.For(kind)
	one, err1 := quantity.Make(1, 0, unit)
	two, err2 := quantity.Make(2, 0, unit)
	if err1 != nil || err2 != nil {
		return nil
	}
	out := []Verb{{Value: &one, Goes: &one, Stops: &two}}
	for _, g := range drawnGauges(sc, sp) {
		out = append(out, Verb{Gauge: g.Gauge, Value: &one, Goes: &one, Stops: &two})
	}
	return out
}

func drawnAnswers(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	var out []Verb
	for _, q := range b.Step(step.ID).Questions {
		for _, c := range q.Choices {
			out = append(out, Verb{Item: q.ID, Choice: c})
		}
		break // the oldest first; the next one once it is answered
	}
	return out
}

func drawnConfirms(sc Scene, sp Spot) []Verb {
	var out []Verb
	for _, v := range append(drawnSteps(sc, sp), Verb{}) {
		out = append(out, Verb{Place: v.Place})
	}
	return out
}

// drawnSteps are the step at hand and every other one of the build.
func drawnSteps(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	out := []Verb{{Reason: sampleReason, Initials: "AB"}}
	for _, s := range b.Plan.Steps {
		out = append(out, Verb{Reason: sampleReason, Initials: "AB", Place: &Place{Build: b.Job, Step: s.ID}})
	}
	return out
}

func drawnItems(sc Scene, sp Spot) []Verb {
	var out []Verb
	b, _ := sc.current()
	for _, v := range drawnSteps(sc, sp) {
		step := sp.Step
		if v.Place != nil {
			s, _ := b.Plan.Step(v.Place.Step)
			step = &s
		}
		if step == nil {
			continue
		}
		for _, it := range step.Items {
			out = append(out, Verb{Item: it.Name, Place: v.Place})
		}
	}
	return out
}

func drawnInside(sc Scene, _ Spot) []Verb {
	b, _ := sc.current()
	if b == nil {
		return nil
	}
	var out []Verb
	for _, t := range b.Inside() {
		out = append(out, Verb{Item: t.Name})
	}
	return out
}

func drawnOverrides(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	var out []Verb
	for what, row := range overridables() {
		for _, name := range row.names(b) {
			o := Override{What: what, Name: name}
			if d, ok := b.Datum(name); ok && what == OverEngine {
				o.Value, o.Word = &d.Value, d.Word
			}
			out = append(out, Verb{Reason: sampleReason, Override: &o})
		}
	}
	return out
}

// drawnPlaces are the builds there are, the one on the bench first.
func drawnPlaces(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, b := range sc.State.Builds {
		of := []Verb{{Place: &Place{Build: b.Job}}, {Place: &Place{Build: b.Job}, Reason: sampleReason}}
		if b.Job == sc.State.Place.Build {
			out = append(of, out...)
		} else {
			out = append(out, of...)
		}
	}
	return out
}

func drawnRegister(sc Scene, _ Spot) []Verb {
	return []Verb{{Register: &Gauge{Name: fresher("gauge", func(n string) bool { _, ok := sc.State.Gauge(n); return ok }), Role: "indicator", Known: KnownKeyed}}}
}

func drawnCheck(sc Scene, sp Spot) []Verb {
	var out []Verb
	for _, g := range drawnGauges(sc, sp) {
		out = append(out, Verb{Check: &Check{Gauge: g.Gauge}})
	}
	return out
}

// sampleBuild is the smallest plan there is: it stands for the one that a person chooses.
const sampleBuild = `title = "Any"
version = 1
cylinders = ["left"]

[[step]]
id = "look"
title = "Look"
do = "Look."
phase = "dry"
kind = "check"
confirms = [{ id = "looked", text = "It was looked at." }]
`

func drawnBuild(sc Scene, _ Spot) []Verb {
	job := fresher("job", func(n string) bool { _, ok := sc.State.Known(n); return ok })
	return []Verb{{Build: &Started{Job: job, Plan: "any", Text: sampleBuild}}}
}

// fresher is a name that is not taken.
func fresher(stem string, taken func(string) bool) string {
	for n := 1; ; n++ {
		if name := stem + "-" + strconv.Itoa(n); !taken(name) {
			return name
		}
	}
}

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
	if len(step.Points) == 0 {
		return nowByHand(sc, b, step, st)
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

// nowByHand is for a step in which nothing is read: confirmations, things that go in and come out.
func nowByHand(sc Scene, b *Build, step plan.Step, st *StepState) (Now, *Verb) {
	if c := nextConfirm(step, st); c != "" {
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
	return nowDone(sc, b, step, st)
}

// nowDone is for a step with nothing left to read.
func nowDone(sc Scene, b *Build, step plan.Step, st *StepState) (Now, *Verb) {
	if c := nextConfirm(step, st); c != "" {
		return NowConfirm, &Verb{Name: DoConfirm, Item: c}
	}
	if step.Hold && st.Signed == nil {
		if ProgressOf(b, step, sc.Results) != Done {
			return NowSign, nil
		}
		return NowSign, &Verb{Name: DoSign}
	}
	if next := b.Plan.Index(step.ID) + 1; next < len(b.Plan.Steps) {
		return NowNext, &Verb{Name: DoGoto, Place: &Place{Build: b.Job, Step: b.Plan.Steps[next].ID}}
	}
	return NowLast, nil
}

func nextConfirm(step plan.Step, st *StepState) string {
	for _, c := range step.Confirms {
		if _, ok := st.Confirmed[c.ID]; !ok {
			return c.ID
		}
	}
	return ""
}

// nowReading is for a step with readings to take.
func nowReading(sc Scene, sp Spot) (Now, *Verb) {
	switch sp.Lacks {
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
	case last != nil && last.Status == PassIsClosed:
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
		if needs(step, s.ID) && p != Done && p != SignedOff && !b.overridden(OverNeeds, step.ID) {
			return s.ID
		}
		if s.Hold && b.Step(s.ID).Signed == nil && !b.overridden(OverHold, s.ID) && !b.overridden(OverNeeds, step.ID) {
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

func needs(step plan.Step, id string) bool {
	for _, n := range step.Needs {
		if n == id {
			return true
		}
	}
	return false
}
