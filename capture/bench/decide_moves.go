package bench

import (
	"fmt"
	"strings"

	"thoud/capture/plan"
)

// decideNext goes on: to the next pass where the verdict asks for one, otherwise to the next step.
func decideNext(sc Scene, v Verb) (Decision, error) {
	b, step := sc.current()
	if b == nil {
		return refuse("no build is on the bench")
	}
	if step == nil {
		return enterStep(b, b.Plan.Steps[0], v), nil
	}
	if st := b.Step(step.ID); wantsAnother(sc, b, *step, st) {
		return decideAgain(sc, v)
	}
	next, ok := nextStep(b, *step)
	if !ok {
		return refuse("this is the last step: sign it and close the build")
	}
	return enterStep(b, next, v), nil
}

// nextStep is the one after a step that is not left out.
func nextStep(b *Build, step plan.Step) (plan.Step, bool) {
	for _, s := range b.Plan.Steps[b.Plan.Index(step.ID)+1:] {
		if s.LeftOut == "" {
			return s, true
		}
	}
	return plan.Step{}, false
}

// wantsAnother reports whether the last pass is closed and its verdict asks for another one.
func wantsAnother(sc Scene, b *Build, step plan.Step, st *StepState) bool {
	p := st.InForce()
	if p == nil || st.Last() != p || b.PassedOver(step.ID) {
		return false
	}
	v, whole := sc.Results.Verdict(b, step, p.Number)
	return whole && leavesWork(v)
}

func enterStep(b *Build, step plan.Step, v Verb) Decision {
	place := Place{Build: b.Job, Step: step.ID}
	if v.Place != nil {
		place.Point, place.Seating = v.Place.Point, v.Place.Seating
	}
	return Decision{Words: "to " + step.Title, Entries: []Entry{asked(v, Entry{Kind: StepEntered, Place: place})}}
}

func decideGoto(sc Scene, v Verb) (Decision, error) {
	s := sc.State
	if v.Place == nil {
		return refuse("goto wants a step, or a build and a step")
	}
	job := v.Place.Build
	if job == "" {
		job = s.Place.Build
	}
	b, ok := s.Build(job)
	if !ok {
		return refuse(fmt.Sprintf("no build %q: thoud build list shows what there is", job))
	}
	id := v.Place.Step
	if id == "" {
		return changeOver(sc, b, v)
	}
	step, ok := b.Plan.Step(id)
	if !ok {
		return refuse(fmt.Sprintf("no step %q in the plan of job %s: it has %s", id, b.Job, stepList(b.Plan)))
	}
	if v.Place.Point != "" {
		if _, ok := step.Point(v.Place.Point); !ok && v.Place.Point != DatumPoint {
			return refuse(fmt.Sprintf("no point %q in step %s", v.Place.Point, step.ID))
		}
	}
	if why := HeldUp(b, step, step.CylinderOf(v.Place.Point), sc.Results); why != "" && v.Place.Point != "" {
		return refuse(why)
	}
	if v.Place.Point != "" {
		sp := Spot{Build: b, Step: &step, State: b.Step(step.ID), Place: Place{Point: v.Place.Point, Pass: b.Step(step.ID).NextPass()}}
		if point, _, _ := firstOf(sp, sc); point != "" {
			return refuse(fmt.Sprintf("%s must be in before %s is read", pointName(step, Place{Point: point}), pointName(step, *v.Place)))
		}
	}
	d := enterStep(b, step, v)
	d.Words = "at " + step.Title
	if why := sc.hindrance(b, step); why != "" {
		d.Words += "; " + why
	}
	return d, nil
}

// changeOver puts a build on the bench again, at the step and point where it was left. The gauges' zeros are not carried
// along: what was zeroed on one engine counts on no other.
func changeOver(sc Scene, b *Build, v Verb) (Decision, error) {
	if b.Closed {
		return refuse(fmt.Sprintf("job %s is closed: nothing more is measured on it; thoud sheet %s writes its sheet", b.Job, b.Job))
	}
	step, ok := b.Plan.Step(b.Stood.Step)
	if !ok {
		step = b.Plan.Steps[0]
	}
	if _, ok := step.Point(b.Stood.Point); ok || b.Stood.Point == DatumPoint {
		back := b.Stood
		v.Place = &back
	}
	d := enterStep(b, step, v)
	d.Words = fmt.Sprintf("job %s is on the bench, at %s", b.Job, b.StoodWords())
	if other, _ := sc.current(); other != nil && other.Job != b.Job {
		d.Words += fmt.Sprintf("; job %s waits at %s", other.Job, other.StoodWords())
	}
	if why := sc.hindrance(b, step); why != "" {
		d.Words += "; " + why
	}
	return d, nil
}

// StoodWords is where the bench stood in a build last, as people call it: the step, and the point where one is to be read.
func (b *Build) StoodWords() string {
	step, ok := b.Plan.Step(b.Stood.Step)
	if !ok {
		step = b.Plan.Steps[0]
	}
	if b.Stood.Step != step.ID || b.Stood.Point == "" {
		return step.Title
	}
	return step.Title + ", " + pointName(step, b.Stood)
}

func stepList(p *plan.Plan) string {
	var ids []string
	for _, s := range p.Steps {
		ids = append(ids, s.ID)
	}
	return strings.Join(ids, ", ")
}

// decideAgain opens another pass of the step at hand; one that is not full must be finished or made void first.
func decideAgain(sc Scene, v Verb) (Decision, error) {
	b, step := sc.current()
	if b == nil || step == nil || len(step.Points) == 0 {
		return refuse("there is nothing to measure again here")
	}
	st := b.Step(step.ID)
	if p := st.Last(); p != nil && p.Status != PassIsClosed {
		return refuse(fmt.Sprintf("pass %d is not closed: finish it, or make it void with a reason", p.Number))
	}
	n := len(st.Passes) + 1
	open := Entry{Kind: PassOpened, Place: Place{Build: b.Job, Step: step.ID, Pass: n}, Reason: v.Reason}
	return Decision{Entries: append(reopenIfSigned(b, step.ID, "measured again"), asked(v, open)),
		Words: fmt.Sprintf("pass %d of %s", n, step.Title)}, nil
}

func decideVoid(sc Scene, v Verb) (Decision, error) {
	b, step := sc.current()
	if b == nil || step == nil || b.Step(step.ID).Last() == nil {
		return refuse("there is no pass to make void")
	}
	if v.Reason == "" {
		return refuse("a pass is made void only with a reason")
	}
	p := b.Step(step.ID).Last()
	return make1(asked(v, Entry{Kind: PassVoid, Place: Place{Build: b.Job, Step: step.ID, Pass: p.Number}, Reason: v.Reason}),
		fmt.Sprintf("pass %d is void; its readings are kept", p.Number))
}

// decideRetake withdraws a reading and makes its point current again. Questions about it are answered by that.
func decideRetake(sc Scene, v Verb) (Decision, error) {
	b, step := sc.current()
	if b == nil || step == nil {
		return refuse("there is no reading to take back: the bench stands at no step")
	}
	st := b.Step(step.ID)
	last, ok := lastStanding(st, v.Place)
	if !ok && v.Place != nil && v.Place.Point != "" {
		return refuse(fmt.Sprintf("there is no reading of %q in %s to take back", v.Place.Point, step.ID))
	}
	if !ok {
		return refuse(fmt.Sprintf("there is no reading in %s to take back", step.ID))
	}
	place := Place{Build: b.Job, Step: step.ID, Pass: last.pass, Point: last.Point, Seating: last.Seating}
	out := append(reopenIfSigned(b, step.ID, "a reading was taken back"),
		asked(v, Entry{Kind: Withdrawn, Place: place, Refers: last.ID, Reason: v.Reason}))
	for _, q := range st.Questions {
		if q.Reading == last.ID {
			out = append(out, Entry{Kind: Answered, Place: place, By: v.By, Refers: q.ID, Choice: ReadAgain})
		}
	}
	return Decision{Entries: out, Words: fmt.Sprintf("%s withdrawn (it is kept): read %s again", last.Value, last.Point)}, nil
}

type inPass struct {
	Taken
	pass int
}

// lastStanding finds the reading to take back: the newest that stands, or the one at a place.
func lastStanding(st *StepState, at *Place) (inPass, bool) {
	best := inPass{}
	for _, p := range st.Passes {
		if p.Status == PassIsVoid {
			continue
		}
		for _, r := range p.Readings {
			if r.N > best.N && !r.Withdrawn && (at == nil || at.Point == "" || isAt(r, p.Number, *at)) {
				best = inPass{r, p.Number}
			}
		}
	}
	return best, best.N > 0
}

// isAt reports whether a reading was taken at a place; pass and seating 0 stand for any.
func isAt(r Taken, pass int, at Place) bool {
	return r.Point == at.Point && (at.Pass == 0 || pass == at.Pass) && (at.Seating <= 0 || r.Seating == at.Seating)
}

// decideAnswer answers the oldest open question of the step, or the one named. The answer comes last, and what it leads
// to only where it is still wanted: cut off in the middle, the question stands, and is answered again without doing
// anything twice.
func decideAnswer(sc Scene, v Verb) (Decision, error) {
	b, step := sc.current()
	if b == nil || step == nil {
		return refuse("nothing is asked")
	}
	if _, open := b.openAsk(*step); open && v.Item == "" {
		return decidePlanAnswer(b, *step, v)
	}
	for _, q := range b.Step(step.ID).Questions {
		if v.Item != "" && q.ID != v.Item {
			continue
		}
		for _, choice := range q.Choices {
			if choice == v.Choice {
				return Decision{Entries: answerEntries(b, *step, q, v), Words: "answered: " + choice}, nil
			}
		}
		return Decision{}, fmt.Errorf("%q is no answer to it: want %s", v.Choice, strings.Join(q.Choices, ", "))
	}
	return decidePlanAnswer(b, *step, v)
}

func answerEntries(b *Build, step plan.Step, q Open, v Verb) []Entry {
	about, p := findReading(b.Step(step.ID), q.Reading)
	place := Place{Build: b.Job, Step: step.ID, Point: about.Point, Seating: about.Seating}
	var out []Entry
	withdraw := func(r Taken) {
		if !r.Withdrawn {
			at := place
			at.Point, at.Seating = r.Point, r.Seating
			out = append(out, Entry{Kind: Withdrawn, Place: at, By: v.By, Refers: r.ID, Reason: q.Words})
		}
	}
	if p != nil {
		place.Pass = p.Number
		switch {
		case v.Choice == ReadAgain && q.Guard == guardSwap:
			for i := len(p.Readings) - 1; i >= 0; i-- {
				withdraw(p.Readings[i])
			}
		case v.Choice == ReadAgain:
			withdraw(about)
		case v.Choice == TakeSo && q.Take != nil:
			standing, stands := p.Standing(about.Point, about.Seating)
			withdraw(about)
			if !stands || standing.ID == about.ID {
				r := about.Reading
				r.Value = *q.Take
				out = append(out, Entry{Kind: ReadingTaken, Place: place, By: byAnswer, Refers: about.ID, Reading: &r})
			}
		}
	}
	return append(out, asked(v, Entry{Kind: Answered, Place: place, Refers: q.ID, Choice: v.Choice, Reason: v.Reason}))
}

// findReading finds a reading of a step and its pass; nil where there is none.
func findReading(st *StepState, id string) (Taken, *Pass) {
	for _, p := range st.Passes {
		for _, r := range p.Readings {
			if r.ID == id {
				return r, p
			}
		}
	}
	return Taken{}, nil
}
