package capture

import (
	"errors"
	"fmt"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// answerQuestion answers the oldest open question of the step, or the one named.
func (l *Loop) answerQuestion(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil {
		return nil, "", errors.New("nothing is asked")
	}
	st := b.Step(step.ID)
	for _, q := range st.Questions {
		if v.Item != "" && q.ID != v.Item {
			continue
		}
		for _, choice := range q.Choices {
			if choice == v.Choice {
				return l.answerDrafts(b, *step, q, v), "answered: " + choice, nil
			}
		}
		return nil, "", fmt.Errorf("%q is no answer to it: want %s", v.Choice, strings.Join(q.Choices, ", "))
	}
	return nil, "", errors.New("nothing is asked")
}

func (l *Loop) answerDrafts(b *bench.Build, step plan.Step, q bench.Open, v bench.Verb) []draft {
	var about inPass
	for _, p := range b.Step(step.ID).Passes {
		for _, r := range p.Readings {
			if r.ID == q.Reading {
				about = inPass{r, p.Number}
			}
		}
	}
	place := bench.Place{Build: b.Job, Step: step.ID, Pass: about.pass, Point: about.Point, Seating: about.Seating}
	// The answer comes last, and each entry only where it is still wanted: cut off in the middle, the question stands and
	// is answered again without doing anything twice.
	var drafts []draft
	withdrawOne := func(r bench.Taken) draft {
		return func(s bench.State) *bench.Entry {
			if !stands(s, place, r.ID) {
				return nil
			}
			at := place
			at.Point, at.Seating = r.Point, r.Seating
			return &bench.Entry{Kind: bench.Withdrawn, Place: at, By: v.By, Refers: r.ID, Reason: q.Words, Verb: prepares}
		}
	}
	switch {
	case v.Choice == ReadAgain && q.Guard == "swap":
		p := b.Step(step.ID).Pass(about.pass)
		for i := len(p.Readings) - 1; i >= 0; i-- {
			drafts = append(drafts, withdrawOne(p.Readings[i]))
		}
	case v.Choice == ReadAgain:
		drafts = append(drafts, withdrawOne(about.Taken))
	case v.Choice == TakeSo && q.Take != nil:
		r := about.Reading
		r.Value = *q.Take
		drafts = append(drafts, withdrawOne(about.Taken), func(s bench.State) *bench.Entry {
			if p := passAt(s, place); p == nil {
				return nil
			} else if _, ok := p.Standing(about.Point, about.Seating); ok {
				return nil
			}
			return &bench.Entry{Kind: bench.ReadingTaken, Place: place, By: "answer", Refers: about.ID, Reading: &r, Verb: prepares}
		})
	}
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Answered, Place: place, By: v.By, Refers: q.ID, Choice: v.Choice, Reason: v.Reason}
	})
	return append(drafts, l.closeDraft)
}
