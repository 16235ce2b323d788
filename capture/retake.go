package capture

import (
	"errors"
	"fmt"

	"thoud/capture/bench"
)

func (l *Loop) retake(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil {
		return nil, "", errors.New("there is no reading to take back: the bench stands at no step")
	}
	st := b.Step(step.ID)
	last, ok := lastStanding(st, v.Place)
	if !ok {
		return nil, "", fmt.Errorf("there is no reading in %s to take back", step.ID)
	}
	place := bench.Place{Build: b.Job, Step: step.ID, Pass: last.pass, Point: last.Point, Seating: last.Seating}
	drafts := l.reopenIfSigned(b, step.ID, "a reading was taken back")
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Withdrawn, Place: place, By: v.By, Refers: last.ID, Reason: v.Reason}
	})
	for _, q := range st.Questions {
		if q.Reading == last.ID {
			drafts = append(drafts, func(bench.State) *bench.Entry {
				return &bench.Entry{Kind: bench.Answered, Place: place, By: v.By, Refers: q.ID, Choice: ReadAgain}
			})
		}
	}
	return drafts, fmt.Sprintf("%s withdrawn (it is kept): read %s again", last.Value, last.Point), nil
}

type inPass struct {
	bench.Taken
	pass int
}

// lastStanding finds the reading to take back: the newest that stands, or the one at a place.
func lastStanding(st *bench.StepState, at *bench.Place) (inPass, bool) {
	best := inPass{}
	for _, p := range st.Passes {
		if p.Status == bench.PassIsVoid {
			continue
		}
		for _, r := range p.Readings {
			if r.Withdrawn || at != nil && at.Point != "" && (r.Point != at.Point || at.Pass != 0 && p.Number != at.Pass || at.Seating > 0 && r.Seating != at.Seating) {
				continue
			}
			if r.N > best.N {
				best = inPass{r, p.Number}
			}
		}
	}
	return best, best.N > 0
}

func (l *Loop) reopenIfSigned(b *bench.Build, step, why string) []draft {
	if b.Step(step).Signed == nil {
		return nil
	}
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Reopened, Place: bench.Place{Build: b.Job, Step: step}, By: "bench", Reason: why, Verb: prepares}
	}}
}
