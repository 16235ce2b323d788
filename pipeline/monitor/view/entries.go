package view

import (
	"strings"

	"thoud/capture/bench"
)

// Says puts what an entry holds in a few words.
func Says(e bench.Entry) Text {
	switch {
	case e.Reading != nil:
		return Shown(e.Reading.Value)
	case e.Zero != nil:
		return Text{MM: e.Zero.Raw.String() + " shall read " + Shown(e.Zero.Shows).MM, Inch: e.Zero.Raw.String() + " shall read " + Shown(e.Zero.Shows).Inch}
	case e.Question != nil:
		return plain(e.Question.Words)
	case e.Drift != nil:
		return plain("drift " + e.Drift.By.String() + " of " + e.Drift.Allowed.String() + " allowed" + after(" · ", e.Reason))
	case e.Override != nil:
		return plain(e.Override.What + " " + e.Override.Name + after(": ", e.Reason))
	case e.Gauge != nil:
		return plain(e.Gauge.Name + ", " + e.Gauge.Role)
	case e.Link != nil:
		return plain(e.Link.Gauge + after(" at ", e.Link.Port))
	case e.Check != nil:
		return plain(e.Check.Gauge + ": " + CheckWords(*e.Check))
	case e.Build != nil:
		return plain("job " + e.Build.Job + after(", ", e.Build.Engine) + ", plan " + e.Build.Plan)
	case e.Picture != nil:
		return plain(e.Picture.Note)
	}
	var parts []string
	for _, p := range []string{e.Choice, e.Item, e.Initials, e.Reason} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return plain(strings.Join(parts, " · "))
}

func after(sep, s string) string {
	if s == "" {
		return ""
	}
	return sep + s
}

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
