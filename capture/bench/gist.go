package bench

import (
	"cmp"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// GistVersion rises whenever GistOf gives anything else of the same entries and results: what was kept before is then reckoned
// anew. Fields that are added, and other rules, are seen without it.
const GistVersion = 1

// Gist is what pages of many builds take from one of them. It is reckoned once for a build that nothing more is recorded in,
// and kept, so that such a page folds no build.
type Gist struct {
	Findings []Finding
	Seatings []Seating
}

// GistOf reckons up a build.
func GistOf(b *Build, results Results) Gist {
	return Gist{Findings: FindingsOf(b, results), Seatings: SeatingsOf(b)}
}

// Finding is a figure, or the standing reading of a point, of the pass in force of a step, as a build is held against others.
type Finding struct {
	Step   string `json:"step"`
	Title  string `json:"title"`             // of the step
	Method string `json:"method,omitempty"`  // of the step's own computation
	Point  string `json:"point,omitempty"`   // a reading of this point; "" a figure
	Key    string `json:"key,omitempty"`     // the run within the pass
	Figure string `json:"figure,omitempty"`  // its name in the method
	Ended  int64  `json:"ended"`             // when the pass was ended, µs
	At     int64  `json:"at,omitempty"`      // of the entry that caused the result, µs
	Large  bool   `json:"large,omitempty"`   // the plan wants it shown
	Rank   int    `json:"rank,omitempty"`    // its place among those of the run, see RankOf
	Limit  *Sides `json:"limit,omitempty"`   // that the result was held against
	Limits *Sides `json:"of_step,omitempty"` // of the step as the build has them now

	Kind   quantity.Kind `json:"kind"`
	Value  *float64      `json:"value,omitempty"` // nil: words, or a list
	U      float64       `json:"u,omitempty"`
	Shown  calc.Shown    `json:"shown"`
	ShownU calc.Shown    `json:"shown_u,omitzero"`
}

// Sides are the two sides of a limit, in the base unit.
type Sides struct {
	Lower *float64 `json:"lower,omitempty"`
	Upper *float64 `json:"upper,omitempty"`
}

// Name is the finding's name within its step: RUN.FIGURE, FIGURE or POINT.
func (f Finding) Name() string {
	if f.Point != "" {
		return f.Point
	}
	return FigureName{Key: f.Key, Figure: f.Figure}.Name()
}

// Name is the figure's name within its step: RUN.FIGURE or FIGURE.
func (n FigureName) Name() string {
	if n.Key != "" {
		return n.Key + "." + n.Figure
	}
	return n.Figure
}

// FindingsOf lists what the passes in force of a build found: of each step its figures, in the order of the method, then its
// readings by point. Of figures that are no number, those that the plan wants shown.
func FindingsOf(b *Build, results Results) []Finding {
	var out []Finding
	for _, step := range b.Plan.Steps {
		p := b.Step(step.ID).InForce()
		if p == nil {
			continue
		}
		base := Finding{Step: step.ID, Title: step.Title, Ended: p.Ended.At}
		if p.Ended == (Mark{}) {
			base.Ended = p.Opened.At
		}
		if step.Compute != nil {
			base.Method = step.Compute.Method
		}
		limits := limitsByName(b, step)
		for _, res := range results.OfPass(b, step, p.Number) {
			for _, f := range res.Figures {
				c := base
				c.Key, c.Figure, c.At, c.Large = res.Key, f.Name, res.At, step.Compute != nil && step.Shows(res.Key, f.Name)
				if f.Value == nil && !c.Large {
					continue // words that no page of many builds shows
				}
				c.Rank = RankOf(step.ComputeOf(res.Key), f.Name, f.Limit != nil)
				unit := step.FigureCounts(res.Key, f.Name)
				c.Kind, c.Value, c.U, c.Shown, c.ShownU = f.Kind, f.Value, f.U, f.Shown.Counted(unit), f.ShownU.CountedU(unit)
				if f.Limit != nil {
					c.Limit = &Sides{f.Limit.Lower, f.Limit.Upper}
				}
				c.Limits = limits[f.Name]
				out = append(out, c)
			}
		}
		out = append(out, pointsOf(step, p, base)...)
	}
	return out
}

// pointsOf lists the newest standing reading of each point of a pass.
func pointsOf(step plan.Step, p *Pass, base Finding) []Finding {
	var out []Finding
	seen := map[string]bool{}
	for _, r := range slices.Backward(p.Readings) {
		if r.Withdrawn || seen[r.Point] {
			continue
		}
		seen[r.Point] = true
		c, v := base, r.Value.Float()
		c.Point, c.Kind, c.Value, c.Shown = r.Point, r.Value.Kind(), &v, calc.ShowReading(r.Value).Counted(step.Counts(r.Point))
		out = append(out, c)
	}
	slices.Reverse(out)
	return out
}

// Figures are the findings that are scalar figures, those of a run in the order in which people read them.
func Figures(all []Finding) []Finding {
	out := slices.DeleteFunc(slices.Clone(all), func(f Finding) bool { return f.Point != "" || f.Value == nil })
	for i := 0; i < len(out); {
		end := i + 1
		for end < len(out) && out[end].Step == out[i].Step && out[end].Key == out[i].Key {
			end++
		}
		slices.SortStableFunc(out[i:end], func(a, b Finding) int { return cmp.Compare(a.Rank, b.Rank) })
		i = end
	}
	return out
}

// FigureName is which figure it is, of which run of which step, with the step's title.
type FigureName struct {
	Step   string `json:"step"`
	Title  string `json:"title"`
	Key    string `json:"key,omitempty"`
	Figure string `json:"figure"`
}

// FigureNames names the scalar figures among findings, in the order of Figures.
func FigureNames(all []Finding) []FigureName {
	var out []FigureName
	for _, f := range Figures(all) {
		out = append(out, FigureName{f.Step, f.Title, f.Key, f.Figure})
	}
	return out
}

// RankOf orders the figures of a run for people: those that the plan wants shown, in its order, then those with limits, then
// the rest.
func RankOf(c *plan.Compute, figure string, limited bool) int {
	if i := slices.Index(c.Shown, figure); i >= 0 {
		return i
	}
	if limited {
		return len(c.Shown)
	}
	return len(c.Shown) + 1
}

// LimitName is how a limit of one of a step's computations is called: by its figure, with the name of the computation
// before it where it has one.
func LimitName(c *plan.Compute, figure string) string {
	return strings.TrimSpace(strings.ReplaceAll(c.Name, "-", " ") + " " + figure)
}

// limitsByName gives what the figures of a step are held against, by the names of the limits.
func limitsByName(b *Build, step plan.Step) map[string]*Sides {
	out := map[string]*Sides{}
	if step.Compute == nil {
		return out
	}
	of := func(c *plan.Compute) {
		for name := range c.Limits {
			l := b.Limit(step, c.Name, name)
			out[LimitName(c, name)] = &Sides{l.Lower, l.Upper}
		}
	}
	of(step.Compute)
	for i := range step.Also {
		of(&step.Also[i])
	}
	return out
}
