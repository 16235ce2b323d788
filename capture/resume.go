package capture

import (
	"context"

	"thoud/capture/bench"
)

// resume does what was left when the service was stopped or killed between the entries of one reading: the questions
// that its guards ask, and the closing of a pass that is full. Without it such a pass would stay full for ever.
func (l *Loop) resume(ctx context.Context) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil || b.Closed {
		return
	}
	st := b.Step(step.ID)
	p := st.Pass(s.Place.Pass)
	if p == nil || len(p.Readings) == 0 {
		return
	}
	last := p.Readings[len(p.Readings)-1]
	sp := spot{build: b, step: *step, state: st,
		place: bench.Place{Build: b.Job, Step: step.ID, Pass: p.Number, Point: last.Point, Seating: last.Seating}}
	asked := uint64(0)
	for _, q := range st.Questions {
		if q.Reading == last.ID {
			asked++
		}
	}
	var ds []draft
	if last.N+asked == s.N { // nothing but its questions came after the reading; those asked are not asked again
		ds = l.askDrafts(sp, &last.Reading)
	}
	l.enqueue(ctx, task{drafts: append(ds, l.closeDraft)})
}
