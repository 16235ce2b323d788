package bench

import (
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"thoud/capture/plan"
)

// PlanChange is that a build went on by another text of its plan, and why.
type PlanChange struct {
	Mark
	Words string // what changed, for people
}

// replanned folds a changed plan. Readings stay where they were taken; the pass at hand is looked at again, because it may
// ask for more points now, or for fewer.
func (f Fold) replanned(b *Build, at Place, e Entry) (Place, error) {
	if e.Build == nil {
		return at, fmt.Errorf("no plan in it")
	}
	p, err := f.parse(e.Build.Plan, e.Build.Text, b.choices())
	if err != nil {
		return at, fmt.Errorf("its plan: %w", err)
	}
	b.Changes = append(slices.Clone(b.Changes), PlanChange{Mark{By: e.By, At: e.At, N: e.N, Reason: e.Reason}, differences(b.Plan, p).words()})
	b.Started.Plan, b.Started.Text = e.Build.Plan, e.Build.Text
	return b.stand(p, at), nil
}

// stand lets a build go on by a plan that stands otherwise, and gives where the bench stands then.
func (b *Build) stand(p *plan.Plan, at Place) Place {
	b.Plan = p
	for _, step := range p.Steps {
		refit(b, step)
	}
	if at.Build != b.Job {
		return at
	}
	step, ok := p.Step(at.Step)
	if !ok {
		return enter(p.Steps[0], b.Step(p.Steps[0].ID), Place{Build: b.Job, Step: p.Steps[0].ID})
	}
	if _, ok := step.Point(at.Point); ok || at.Point == DatumPoint {
		return at
	}
	return enter(step, b.Step(step.ID), Place{Build: b.Job, Step: step.ID})
}

// refit looks again whether the last pass of a step has every reading that is wanted.
func refit(b *Build, step plan.Step) {
	old := b.Steps[step.ID]
	if old == nil {
		return
	}
	st := cloneStep(old)
	for i, p := range st.Passes {
		if p.Status != PassIsOpen && p.Status != PassIsFull {
			continue
		}
		q := *p
		q.Status = PassIsFull
		if _, _, missing := st.Missing(step, p.Number, Place{}); missing {
			q.Status = PassIsOpen
		}
		st.Passes[i] = &q
	}
	b.Steps[step.ID] = st
}

// planDiff is what differs between two plans, by the ids of the steps.
type planDiff struct {
	added, gone, leftOut, putBack, worked, worded []string
	data                                          []string // engine data
}

func differences(was, is *plan.Plan) planDiff {
	var d planDiff
	for _, s := range was.Steps {
		if _, ok := is.Step(s.ID); !ok {
			d.gone = append(d.gone, s.ID)
		}
	}
	for _, s := range is.Steps {
		old, ok := was.Step(s.ID)
		switch {
		case !ok:
			d.added = append(d.added, s.ID)
			continue
		case old.LeftOut == "" && s.LeftOut != "":
			d.leftOut = append(d.leftOut, s.ID)
		case old.LeftOut != "" && s.LeftOut == "":
			d.putBack = append(d.putBack, s.ID)
		}
		switch {
		case !reflect.DeepEqual(workOf(old), workOf(s)):
			d.worked = append(d.worked, s.ID)
		case !reflect.DeepEqual(withoutLeaving(old), withoutLeaving(s)):
			d.worded = append(d.worded, s.ID)
		}
	}
	for _, e := range is.Engine {
		if old, ok := was.Datum(e.Name); !ok || !reflect.DeepEqual(old, e) {
			d.data = append(d.data, e.Name)
		}
	}
	return d
}

// withoutLeaving is a step without whether it is left out.
func withoutLeaving(s plan.Step) plan.Step {
	s.LeftOut = ""
	return s
}

// workOf is what is done and read in a step: without its words, and without what is computed, which is computed again.
func workOf(s plan.Step) plan.Step {
	s = withoutLeaving(s)
	s.Title, s.Do, s.View, s.Cautions, s.Notes, s.Needs, s.Compute, s.Also = "", "", "", nil, nil, nil, nil, nil
	s.Points = slices.Clone(s.Points)
	for i := range s.Points {
		s.Points[i].Title, s.Points[i].Do = "", ""
	}
	return s
}

func (d planDiff) words() string {
	var out []string
	for _, part := range []struct {
		what string
		ids  []string
	}{{"added", d.added}, {"left out", d.leftOut}, {"put back", d.putBack}, {"changed", append(slices.Clone(d.worked), d.worded...)}, {"taken out", d.gone}, {"engine data", d.data}} {
		if len(part.ids) > 0 {
			out = append(out, part.what+": "+fewOf(part.ids))
		}
	}
	return strings.Join(out, "; ")
}

// fewOf names a few of many.
func fewOf(ids []string) string {
	const few = 6
	if len(ids) <= few {
		return strings.Join(ids, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(ids[:few], ", "), len(ids)-few)
}

func decidePlan(sc Scene, v Verb) (Decision, error) {
	if v.Build == nil || v.Build.Text == "" {
		return refuse("no plan is given")
	}
	if v.Reason == "" {
		return refuse("a plan is changed in mid-build only with a reason: it is kept and printed")
	}
	job := v.Build.Job
	if job == "" {
		job = sc.State.Place.Build
	}
	b, ok := sc.State.Build(job)
	switch {
	case !ok:
		return refuse(fmt.Sprintf("no build %q: thoud build list shows what there is", job))
	case b.Closed:
		return refuse(fmt.Sprintf("job %s is closed: its plan stays as it is", b.Job))
	}
	name := v.Build.Plan
	if name == "" {
		name = b.Started.Plan
	}
	if v.Build.Text == b.Text && name == b.Started.Plan {
		return refuse(fmt.Sprintf("job %s has this plan already: nothing is changed", b.Job))
	}
	p, err := b.changedPlan(name, v.Build.Text)
	if err != nil {
		return Decision{}, err // it names the plan, line and column
	}
	if err := keepsAll(b, p); err != nil {
		return Decision{}, err
	}
	diff := differences(b.Plan, p)
	change := asked(v, Entry{Kind: PlanChanged, Place: Place{Build: b.Job}, Reason: v.Reason,
		Build: &Started{Job: b.Job, Engine: b.Engine, Plan: name, Text: v.Build.Text}})
	words := diff.words()
	if words == "" {
		words = "its text alone differs"
	}
	// What is opened again comes first: cut off in between, a step is measured once more that need not be, never one left
	// that must.
	d := Decision{Words: fmt.Sprintf("job %s goes on by the changed plan: %s", b.Job, words)}
	for _, id := range append(slices.Clone(diff.worked), diff.putBack...) {
		if st := b.Step(id); st.Signed != nil || st.InForce() != nil && slices.Contains(diff.worked, id) {
			d.Entries = append(d.Entries, Entry{Kind: Reopened, Place: Place{Build: b.Job, Step: id}, By: byBench, Reason: "the plan was changed: " + v.Reason})
		}
	}
	d.Entries = append(d.Entries, change)
	return d, nil
}

// changedPlan reads a new text of the build's plan, with every answer its questions may get. A text in which remarks alone
// differ is the plan that is there: a status draws one each time it asks whether a plan may be changed, and reading a whole
// plan in every way its questions may be answered takes longer than all the rest of a status.
func (b *Build) changedPlan(name, text string) (*plan.Plan, error) {
	if name == b.Started.Plan && slices.Equal(linesOf(text), linesOf(b.Text)) {
		return b.Plan, nil
	}
	p, err := plan.Parse(name, []byte(text))
	if err == nil {
		err = p.CheckAnswers()
	}
	if err == nil && len(b.Answers) > 0 {
		p, err = plan.ParseAnswered(name, []byte(text), b.choices())
	}
	return p, err
}

// linesOf gives the lines of a text without blank ones and remarks. A plan has no texts of several lines, so that a line that
// begins with # is a remark.
func linesOf(text string) []string {
	var out []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			out = append(out, line)
		}
	}
	return out
}

// keepsAll refuses a plan in which something that was recorded would have no place any more.
func keepsAll(b *Build, p *plan.Plan) error {
	for _, old := range b.Plan.Steps {
		st := b.Step(old.ID)
		is, ok := p.Step(old.ID)
		if what := recordedIn(b, old.ID, st); !ok && what != "" {
			return fmt.Errorf("the plan lacks the step %q, in which job %s has %s: a step can't vanish with them; leave it out instead (thoud plan edit %s --leave-out %s), and they stay in sight", old.ID, b.Job, what, b.Job, old.ID)
		}
		if !ok {
			continue
		}
		for _, pt := range pointsRead(st) {
			if _, ok := is.Point(pt); !ok && pt != DatumPoint {
				return fmt.Errorf("the plan lacks the point %q of step %q, which job %s has read: a reading keeps its place; leave the point in, or add a step of another id", pt, old.ID, b.Job)
			}
		}
	}
	for _, t := range b.Inside() {
		if !slices.ContainsFunc(p.Steps, func(s plan.Step) bool { return slices.Contains(s.Out, t.Name) }) {
			return fmt.Errorf("%s is in the engine, and no step of the plan takes it out", t.Name)
		}
	}
	for _, l := range b.Loose {
		if !slices.ContainsFunc(p.Steps, func(s plan.Step) bool { return s.ID == l.Ends || slices.Contains(s.Ends, l.Name) }) {
			return fmt.Errorf("%s is left loose, and no step of the plan makes it fast", l.Name)
		}
	}
	return nil
}

// recordedIn says what a build has recorded in a step, "" where nothing that must keep its place.
func recordedIn(b *Build, id string, st *StepState) string {
	n := 0
	for _, p := range st.Passes {
		n += len(p.Readings)
	}
	switch {
	case n == 1:
		return "1 reading"
	case n > 1:
		return fmt.Sprintf("%d readings", n)
	case len(st.Confirmed) > 0:
		return "confirmations"
	case slices.ContainsFunc(b.Pictures, func(p PinnedPicture) bool { return p.Step == id }):
		return "photos"
	case slices.ContainsFunc(b.Tally, func(t TallyItem) bool { return t.Step == id }):
		return "things counted in"
	}
	return ""
}

// pointsRead are the points of a step that were ever read.
func pointsRead(st *StepState) []string {
	seen := map[string]bool{}
	for _, p := range st.Passes {
		for i := range p.Readings {
			seen[p.Readings[i].Point] = true
		}
	}
	return slices.Sorted(maps.Keys(seen))
}
