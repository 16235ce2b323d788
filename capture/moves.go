package capture

import (
	"errors"
	"fmt"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// next goes on: to the next pass where the verdict is not in, otherwise to the next step.
func (l *Loop) next(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil {
		return nil, "", errors.New("no build is on the bench")
	}
	if step == nil {
		return l.enterDrafts(b, b.Plan.Steps[0], v), "to " + b.Plan.Steps[0].Title, nil
	}
	if p := b.Step(step.ID).InForce(); p != nil && b.Step(step.ID).Last() == p {
		if v2, whole := l.Results().Verdict(b, *step, p.Number); whole && v2 != calc.VerdictIn && v2 != calc.NoVerdict && !b.PassedOver(step.ID) {
			return l.again(v)
		}
	}
	at := b.Plan.Index(step.ID)
	if at+1 >= len(b.Plan.Steps) {
		return nil, "", errors.New("this is the last step: sign it and close the build")
	}
	to := b.Plan.Steps[at+1]
	return l.enterDrafts(b, to, v), "to " + to.Title, nil
}

func (l *Loop) enterDrafts(b *bench.Build, step plan.Step, v bench.Verb) []draft {
	return []draft{func(bench.State) *bench.Entry {
		place := bench.Place{Build: b.Job, Step: step.ID}
		if v.Place != nil {
			place.Point, place.Seating = v.Place.Point, v.Place.Seating
		}
		return &bench.Entry{Kind: bench.StepEntered, Place: place, By: v.By}
	}}
}

func (l *Loop) goTo(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	if v.Place == nil {
		return nil, "", errors.New("goto wants a step, or a build and a step")
	}
	job := v.Place.Build
	if job == "" {
		job = s.Place.Build
	}
	b, ok := s.Build(job)
	if !ok {
		return nil, "", fmt.Errorf("no build %q: thoud build list shows what there is", job)
	}
	id := v.Place.Step
	if id == "" {
		id = b.Plan.Steps[0].ID
	}
	step, ok := b.Plan.Step(id)
	if !ok {
		return nil, "", fmt.Errorf("no step %q in the plan of job %s: it has %s", id, b.Job, stepList(b.Plan))
	}
	if v.Place.Point != "" {
		if _, ok := step.Point(v.Place.Point); !ok && v.Place.Point != bench.DatumPoint {
			return nil, "", fmt.Errorf("no point %q in step %s", v.Place.Point, step.ID)
		}
	}
	words := "at " + step.Title
	if why := bench.Hindrance(b, step, l.Results()); why != "" {
		words += "; " + why
	}
	return l.enterDrafts(b, step, v), words, nil
}

func stepList(p *plan.Plan) string {
	var ids []string
	for _, s := range p.Steps {
		ids = append(ids, s.ID)
	}
	return strings.Join(ids, ", ")
}

// again opens another pass of the step at hand; one that is not full must be finished or made void first.
func (l *Loop) again(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil || len(step.Points) == 0 {
		return nil, "", errors.New("there is nothing to measure again here")
	}
	st := b.Step(step.ID)
	if p := st.Last(); p != nil && p.Status != bench.PassIsClosed {
		return nil, "", fmt.Errorf("pass %d is not closed: finish it, or make it void with a reason", p.Number)
	}
	n := len(st.Passes) + 1
	drafts := l.reopenIfSigned(b, step.ID, "measured again")
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: b.Job, Step: step.ID, Pass: n}, By: v.By, Reason: v.Reason}
	})
	return drafts, fmt.Sprintf("pass %d of %s", n, step.Title), nil
}

func (l *Loop) void(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil || b.Step(step.ID).Last() == nil {
		return nil, "", errors.New("there is no pass to make void")
	}
	if v.Reason == "" {
		return nil, "", errors.New("a pass is made void only with a reason")
	}
	p := b.Step(step.ID).Last()
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.PassVoid, Place: bench.Place{Build: b.Job, Step: step.ID, Pass: p.Number}, By: v.By, Reason: v.Reason}
	}}, fmt.Sprintf("pass %d is void; its readings are kept", p.Number), nil
}
