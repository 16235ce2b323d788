package plan

import (
	"regexp"
	"slices"

	"thoud/calc"
)

// Counts is what a plain number counts that is read at a point: "%", "s"; "" where it counts nothing.
func (s Step) Counts(point string) string {
	pt, _ := s.Point(point)
	return pt.Unit
}

// FigureCounts is what a figure of a run counts where it is a plain number: what its method says, else what the readings
// count that it is made of.
func (s Step) FigureCounts(key, name string) string {
	c := s.ComputeOf(key)
	if c == nil {
		return ""
	}
	m, known := calc.Find(c.Method)
	i := slices.IndexFunc(m.Figures, func(f calc.Figure) bool { return f.Name == name })
	switch {
	case !known || i < 0:
		return ""
	case m.Figures[i].Unit != "" || m.Figures[i].Kind != calc.AnyKind:
		return m.Figures[i].Unit
	}
	for _, b := range c.Inputs {
		for _, r := range b.Refs {
			if unit := s.refCounts(r); unit != "" {
				return unit
			}
		}
	}
	return ""
}

// runName is what stands for a name of the run in a reference.
var runName = regexp.MustCompile(`\{[a-z]+\}`)

// refCounts is what a reference to the step's own readings or figures counts.
func (s Step) refCounts(r Ref) string {
	switch {
	case r.Step != "" && r.Step != s.ID:
		return ""
	case r.Kind == RefFigure:
		if unit := s.FigureCounts(r.Run, r.Name); unit != "" && unit[0] != ':' { // what is made of ratios is none itself
			return unit
		}
		return ""
	case r.Kind != RefReading && r.Kind != RefReadings:
		return ""
	}
	for _, pt := range s.Points {
		if _, fits := Match(runName.ReplaceAllString(r.Point, "*"), pt.ID); fits && pt.Unit != "" {
			return pt.Unit
		}
	}
	return ""
}
