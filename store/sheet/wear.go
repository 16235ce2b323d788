package sheet

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/capture/bench"
)

// Wear is how a dimension goes with the hours that the engine ran, by a straight line through its builds.
type Wear struct {
	PerHour      float64    `json:"per_hour"`
	U            float64    `json:"expanded_uncertainty"`
	Shown        calc.Shown `json:"shown"`
	ShownU       calc.Shown `json:"shown_uncertainty"`
	Real         bool       `json:"real"` // beyond its uncertainty
	Limit        *float64   `json:"limit,omitempty"`
	Met          *float64   `json:"met_at_hours,omitempty"`
	From         *float64   `json:"from_hours,omitempty"` // where it may be met first, with 95 % confidence
	To           *float64   `json:"to_hours,omitempty"`
	Widened      float64    `json:"widened,omitempty"` // by what the scatter widened the uncertainties
	Words        calc.Shown `json:"words"`
	Builds       int        `json:"builds"`
	WithoutHours int        `json:"builds_without_hours,omitempty"`
}

// WithHours puts beside each point the hours that its engine had run by then, as they were told; by gives them.
func WithHours(points []Point, by func(at int64) (float64, bool)) []Point {
	out := slices.Clone(points)
	for i, p := range out {
		at, err := time.Parse(time.RFC3339, p.At)
		if err != nil {
			continue
		}
		if h, ok := by(at.UnixMicro()); ok {
			out[i].Hours = &h
		}
	}
	return out
}

// WearOf fits a straight line through a dimension over the hours of its engine, from the build of a job on ("" from the
// first: a new part begins a new line; of several benches the job is BENCH/JOB), and says when it will meet its limit: the
// newest one, on the side that it goes towards. false, with the reason in words, where no line can be drawn.
func WearOf(points []Point, since string) (Wear, string, bool) {
	if since != "" {
		i, why := sinceJob(points, since)
		if why != "" {
			return Wear{}, why, false
		}
		points = points[i:]
	}
	var w Wear
	var x, y, u []float64
	var last Point
	for _, p := range points {
		if p.Hours == nil {
			w.WithoutHours++
			continue
		}
		x, y, u, last = append(x, *p.Hours), append(y, p.Value), append(u, p.U/2), p
	}
	l, err := calc.FitLine(x, y, u)
	if err != nil {
		return w, noLine(len(x), w.WithoutHours), false
	}
	w.Builds, w.PerHour, w.U, w.Widened = len(x), l.Slope, l.K*l.USlope, l.Widened
	w.Real = math.Abs(w.PerHour) > w.U
	w.Shown, w.ShownU = calc.ShowFigure(last.Kind, w.PerHour, calc.Grain{U: w.U}), calc.ShowFigure(last.Kind, w.U, calc.Grain{U: w.U})
	w.Limit = last.Upper
	if w.PerHour < 0 {
		w.Limit = last.Lower
	}
	if w.Limit != nil {
		if met, from, to, ok := l.Meets(*w.Limit); ok {
			w.Met, w.From, w.To = &met, &from, &to
		}
	}
	w.Words = w.words(last)
	return w, "", true
}

// sinceJob finds the point of a job.
func sinceJob(points []Point, since string) (at int, why string) {
	at = -1
	for i, p := range points {
		switch {
		case p.Job != since && p.Ref() != since:
		case at >= 0:
			return 0, fmt.Sprintf("job %s is of bench %s and of bench %s: say which, as %s", since, points[at].Bench, p.Bench, p.Ref())
		default:
			at = i
		}
	}
	if at < 0 {
		return 0, fmt.Sprintf("job %s has not got this dimension", since)
	}
	return at, ""
}

func noLine(with, without int) string {
	switch {
	case with == 0 && without > 0:
		return "no wear per hour: the hours of the engine were not told by any of these builds (thoud hours)"
	case with < 2:
		return "no wear per hour: it wants two builds of which the hours are known"
	}
	return "no wear per hour: the builds are of the same hours, or two of them do not state their uncertainty"
}

func (w Wear) words(last Point) calc.Shown {
	in := func(sys func(calc.Shown) string) string {
		out := fmt.Sprintf("%s ± %s an hour, of %d builds", sys(w.Shown), sys(w.ShownU), w.Builds)
		if w.Widened > 1.001 {
			out += fmt.Sprintf("; the builds scatter more than their uncertainties, which are taken %.1f times wider", w.Widened)
		}
		switch {
		case !w.Real:
			out += "; no wear beyond its uncertainty, so when a limit is met can't be told"
		case w.Limit == nil:
			out += "; it has no limit on that side"
		default:
			limit := sys(calc.ShowLike(last.Kind, *w.Limit, last.Shown))
			switch now := *last.Hours; {
			case *w.Met <= now:
				out += fmt.Sprintf("; its limit %s is met already", limit)
			default:
				out += fmt.Sprintf("; it meets its limit %s at %.0f h, between %.0f and %.0f h; the engine had %s then", limit, *w.Met, *w.From, *w.To, hours(now))
			}
		}
		return out
	}
	return calc.Shown{MM: in(func(s calc.Shown) string { return s.MM }), Inch: in(func(s calc.Shown) string { return s.Inch })}
}

func hours(h float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", h), ".0") + " h" }

// Dimension is a figure that builds have: by the name that History asks for it, and as people call it.
type Dimension struct {
	Name  string // "bores/left.clearance_min"
	Step  string // the title of its step
	Words string // "left: least clearance"
}

// String is the whole of it in words: "Bores and pistons, left: least clearance".
func (d Dimension) String() string { return d.Step + ", " + d.Words }

// Dimensions lists the figures that builds have, each once, in the order of the steps of the newest build that has it. The
// builds come oldest first, each with its figures.
func Dimensions(builds [][]bench.FigureName) []Dimension {
	var out []Dimension
	known, seen := map[string]bool{}, map[*bench.FigureName]bool{}
	for _, figures := range slices.Backward(builds) {
		if len(figures) == 0 || seen[&figures[0]] {
			continue // builds of one plan share their list
		}
		seen[&figures[0]] = true
		for _, f := range figures {
			name := f.Step + "/" + f.Name()
			if known[name] {
				continue
			}
			known[name] = true
			d := Dimension{Name: name, Step: f.Title, Words: calc.FigureWords(f.Figure)}
			if f.Key != "" {
				d.Words = runName(f.Key) + ": " + d.Words
			}
			out = append(out, d)
		}
	}
	return out
}
