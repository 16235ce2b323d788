package view

import (
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// AskRow is one line of what stands beside a question: a value that tells which answer is right.
type AskRow struct {
	Name  string
	Value Text
}

// lookAtQuestion sets beside the first question the reading that it is about, the same point on the other side, what the
// point read in the pass before, and what it can read at all.
func (w *work) lookAtQuestion() {
	if len(w.st.Questions) == 0 {
		return
	}
	q := w.st.Questions[0]
	pass := w.st.Pass(q.Pass)
	if pass == nil {
		return
	}
	asked, ok := takenOf(pass, q.Reading)
	if !ok {
		return
	}
	row := func(name string, v quantity.Value) {
		w.v.AskRows = append(w.v.AskRows, AskRow{Name: name, Value: Shown(v).Counted(w.step.Counts(asked.Point))})
	}
	title := func(point string) string { return titled(w.b.Plan, pointTitle(w.step, point)) }
	row("this one, as "+title(asked.Point), asked.Value)
	if fellow := w.fellow(asked.Point); fellow != "" {
		if r, ok := pass.Standing(fellow, max(asked.Seating, 1)); ok {
			row(title(fellow), r.Value)
		}
	}
	for n := q.Pass - 1; n >= 1; n-- {
		if p := w.st.Pass(n); p != nil && p.Status != bench.PassIsVoid {
			if r, ok := p.Standing(asked.Point, max(asked.Seating, 1)); ok {
				row(fmt.Sprintf("in pass %d", n), r.Value)
			}
			break
		}
	}
	if pt, ok := w.step.Point(asked.Point); ok && pt.Least.Valid() && pt.Most.Valid() {
		lo, hi := Shown(pt.Least), Shown(pt.Most)
		w.v.AskRows = append(w.v.AskRows, AskRow{Name: "it can read", Value: Text{MM: lo.MM + " to " + hi.MM, Inch: lo.Inch + " to " + hi.Inch}.Counted(w.step.Counts(asked.Point))})
	}
}

// lookAtAnswers lists what was answered of the plan's questions: what was answered may be otherwise by now, as the keyway is
// when the wheel was moved to another.
func (w *work) lookAtAnswers() {
	for _, s := range w.b.Plan.Steps {
		for _, a := range s.Asks {
			choice := w.b.Answers[a.ID].Choice
			if choice == "" {
				continue
			}
			row := Answered{ID: a.ID, Words: a.Text, Choice: a.Words(choice)}
			for _, other := range a.Choice {
				if other != choice {
					row.Others = append(row.Others, Other{Choice: other, Words: a.Words(other)})
				}
			}
			w.v.Answered = append(w.v.Answered, row)
		}
	}
}

// takenOf finds a reading of a pass by its id.
func takenOf(p *bench.Pass, id string) (bench.Taken, bool) {
	for _, r := range p.Readings {
		if r.ID == id {
			return r, true
		}
	}
	return bench.Taken{}, false
}

// fellow is the same point on the other cylinder, "" where there is none.
func (w *work) fellow(point string) string {
	c := w.b.Plan.Cylinders
	if len(c) != 2 {
		return ""
	}
	for i, own := range c {
		if rest, ok := cutSide(point, own); ok {
			if _, has := w.step.Point(c[1-i] + rest); has {
				return c[1-i] + rest
			}
		}
	}
	return ""
}

func cutSide(point, cylinder string) (string, bool) {
	if point == cylinder {
		return "", true
	}
	if len(point) > len(cylinder) && point[:len(cylinder)+1] == cylinder+"." {
		return point[len(cylinder):], true
	}
	return "", false
}

// entryOf is the number of the ledger's entry that shows the way of a result: that of the last reading it used; 0 where it
// used none.
func (w *work) entryOf(r bench.Result) uint64 {
	var n uint64
	for _, p := range w.st.Passes {
		for _, id := range r.Readings {
			if t, ok := takenOf(p, id); ok && t.N > n {
				n = t.N
			}
		}
	}
	return n
}
