package view

import (
	"fmt"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Says puts what an entry holds in a few words, by the titles of the plan of its build.
func Says(s bench.State, e bench.Entry) Text {
	switch {
	case e.Reading != nil:
		return Shown(e.Reading.Value).Counted(countedAt(s, e.Place))
	case e.Zero != nil:
		return Text{MM: Shown(e.Zero.Raw).MM + " shall read " + Shown(e.Zero.Shows).MM, Inch: Shown(e.Zero.Raw).Inch + " shall read " + Shown(e.Zero.Shows).Inch}
	case e.Question != nil:
		return plain(e.Question.Words)
	case e.Drift != nil:
		by, allowed := Shown(e.Drift.By), Shown(e.Drift.Allowed)
		return Text{MM: "drift " + by.MM + " of " + allowed.MM + " allowed" + after(" · ", e.Reason), Inch: "drift " + by.Inch + " of " + allowed.Inch + " allowed" + after(" · ", e.Reason)}
	case e.Override != nil:
		return plain(overrideWords(s, e) + after(": ", e.Reason))
	case e.Gauge != nil:
		return plain(e.Gauge.Name + ", " + e.Gauge.Role)
	case e.Link != nil:
		return plain(e.Link.Gauge + after(" at ", e.Link.Port))
	case e.Check != nil:
		return beforeBoth(e.Check.Gauge+": ", CheckWords(*e.Check, quantity.Length))
	case e.Build != nil:
		return plain("job " + e.Build.Job + after(", ", e.Build.Engine) + ", plan " + e.Build.Plan)
	case e.Engine != nil:
		return plain(engineWords(s, *e.Engine) + after(" · ", e.Reason))
	case e.Life != nil, e.Rules != nil, e.Key != "":
		return plain(strings.Join(append(bench.SaysOf(e), notEmpty(e.Reason)...), " · "))
	case e.Picture != nil:
		return plain(e.Picture.Note)
	}
	var parts []string
	for _, p := range []string{choiceWords(s, e), itemTitle(s, e), e.Initials, e.Reason} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return plain(strings.Join(parts, " · "))
}

// choiceWords says a choice as the plan says it, where the plan asked.
func choiceWords(s bench.State, e bench.Entry) string {
	if b, ok := s.Build(e.Place.Build); ok && b.Plan != nil && e.Refers == "" {
		return b.Plan.ChoiceWords(e.Item, e.Choice)
	}
	return e.Choice
}

// countedAt is what a plain number counts that was read at a place.
func countedAt(s bench.State, at bench.Place) string {
	b, ok := s.Build(at.Build)
	if !ok || b.Plan == nil {
		return ""
	}
	step, _ := b.Plan.Step(at.Step)
	return step.Counts(at.Point)
}

// engineNamed is how many values of an engine a row of the ledger names.
const engineNamed = 3

// engineWords says which values of an engine were kept: the first few, then how many more.
func engineWords(s bench.State, set bench.EngineSet) string {
	title := func(name string) string {
		for _, b := range s.Builds {
			if b.Plan == nil || b.Job != set.Job && b.Engine != set.Engine {
				continue
			}
			if d, ok := b.Datum(name); ok && d.Title != "" {
				return d.Title
			}
		}
		return plan.Called(strings.ReplaceAll(name, "_", " "))
	}
	var named []string
	for i, v := range set.Values {
		if i == engineNamed {
			break
		}
		one := title(v.Name) + " " + v.Words()
		if v.Gone {
			one = title(v.Name) + " taken out"
		}
		named = append(named, one)
	}
	out := set.Engine + after(", copied from ", set.From) + ": " + strings.Join(named, ", ")
	if more := len(set.Values) - len(named); more > 0 {
		out += fmt.Sprintf(" and %d more", more)
	}
	return out
}

func notEmpty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

func beforeBoth(s string, t Text) Text { return Text{MM: s + t.MM, Inch: s + t.Inch} }

func after(sep, s string) string {
	if s == "" {
		return ""
	}
	return sep + s
}

// IsWithdrawn reports whether an entry is a reading that was withdrawn later.
func IsWithdrawn(s bench.State, e bench.Entry) bool {
	if e.Kind != bench.ReadingTaken {
		return false
	}
	b, ok := s.Build(e.Place.Build)
	if !ok {
		return false
	}
	if p := b.Step(e.Place.Step).Pass(e.Place.Pass); p != nil {
		for _, r := range p.Readings {
			if r.ID == e.ID {
				return r.Withdrawn
			}
		}
	}
	return false
}

// Happened is an entry's kind for people.
func Happened(k bench.Kind) string {
	if row, ok := bench.KindOf(k); ok {
		return row.Words
	}
	return string(k)
}

// Where is a place for people, by the titles of the plan of its build: "job 17, Guide-block clearance, pass 2, left, as it
// stands". A build that is not in work is told by the ids of its plan.
func Where(s bench.State, p bench.Place) string {
	if p.Build == "" {
		return ""
	}
	parts := []string{"job " + p.Build}
	var step plan.Step
	known := false
	if b, ok := s.Build(p.Build); ok && b.Plan != nil {
		step, known = b.Plan.Step(p.Step)
	}
	switch {
	case known:
		parts = append(parts, step.Title)
	case p.Step != "":
		parts = append(parts, p.Step)
	}
	if p.Pass > 0 {
		parts = append(parts, fmt.Sprintf("pass %d", p.Pass))
	}
	if p.Point != "" {
		parts = append(parts, pointTitle(step, p.Point))
	}
	if p.Seating > 1 {
		parts = append(parts, fmt.Sprintf("seating %d", p.Seating))
	}
	return strings.Join(parts, ", ")
}

// StepTitle is a step for people, its id where its build is not in work.
func StepTitle(s bench.State, job, step string) string {
	if b, ok := s.Build(job); ok && b.Plan != nil {
		if st, ok := b.Plan.Step(step); ok {
			return st.Title
		}
	}
	return step
}

// itemTitle is what an entry is about for people: the title of engine data, the text of what was confirmed, else its name.
func itemTitle(s bench.State, e bench.Entry) string {
	b, ok := s.Build(e.Place.Build)
	if !ok || b.Plan == nil {
		return e.Item
	}
	if name, ok := strings.CutPrefix(e.Item, "engine."); ok {
		if d, ok := b.Datum(name); ok {
			return d.Title + ", " + d.Words()
		}
	}
	if st, ok := b.Plan.Step(e.Place.Step); ok {
		for _, c := range st.Confirms {
			if c.ID == e.Item {
				return strings.TrimSuffix(c.Text, ".")
			}
		}
	}
	if e.Kind == bench.TallyIn || e.Kind == bench.TallyOut {
		return plan.Called(e.Item)
	}
	return e.Item
}

// overrideWords is what was overridden for people.
func overrideWords(s bench.State, e bench.Entry) string {
	o := e.Override
	switch o.What {
	case "engine":
		if b, ok := s.Build(e.Place.Build); ok {
			if d, ok := b.Datum(o.Name); ok {
				return d.Title + " changed"
			}
		}
	case "verdict", "needs", "hold":
		return map[string]string{"verdict": "gone on in spite of the verdict", "needs": "begun before what it needs", "hold": "gone on without the signature"}[o.What] +
			" of " + lowerTitle(StepTitle(s, e.Place.Build, o.Name))
	}
	return o.What + " " + o.Name
}

// NewestReading is the last reading of the step in work that was not withdrawn: its id, and in words by the title of its
// point, "left, at contact: 0.6020 in". Both are empty where there is none.
func NewestReading(s bench.State) (id string, words Text) {
	b, step := s.Current()
	if b == nil || step == nil {
		return "", Text{}
	}
	last := b.Step(step.ID).Last()
	if last == nil {
		return "", Text{}
	}
	for i := len(last.Readings) - 1; i >= 0; i-- {
		if r := last.Readings[i]; !r.Withdrawn {
			return r.ID, beforeBoth(pointTitle(*step, r.Point)+": ", Shown(r.Value).Counted(step.Counts(r.Point)))
		}
	}
	return "", Text{}
}
