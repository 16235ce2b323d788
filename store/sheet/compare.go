package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/quantity"
)

// ErrNoDimension marks a dimension that no build has, or that a name leaves open.
var ErrNoDimension = errors.New("no such dimension")

// Difference is one figure of two builds, each from its step's pass in force.
//
//	by = b − a      U = √(U_a² + U_b²)      differs where |by| > U
//
// The uncertainty that both share (one gauge, one standard) cancels in truth and is counted twice here: a difference said to
// be real is real all the more (GUM, JCGM 100, 5.2).
type Difference struct {
	Step    string        `json:"step"`
	Key     string        `json:"key,omitempty"`
	Figure  string        `json:"figure"`
	Kind    quantity.Kind `json:"kind"`
	A       float64       `json:"a"`
	B       float64       `json:"b"`
	By      float64       `json:"by"`
	U       float64       `json:"expanded_uncertainty"`
	Differs bool          `json:"differs"` // beyond the uncertainty
	Known   bool          `json:"known"`   // both came with an uncertainty
	ShownA  calc.Shown    `json:"shown_a"`
	ShownB  calc.Shown    `json:"shown_b"`
	ShownBy calc.Shown    `json:"shown_by"`
	ShownU  calc.Shown    `json:"shown_uncertainty"`
}

// Compare holds two builds beside each other: every scalar figure that both have, in the order of the first.
func Compare(a, b Sheet) []Difference {
	out := []Difference{}
	for _, sa := range a.Steps {
		i := slices.IndexFunc(b.Steps, func(s Step) bool { return s.ID == sa.ID && s.Method == sa.Method })
		if i < 0 {
			continue
		}
		for _, fa := range inForce(sa) {
			for _, fb := range inForce(b.Steps[i]) {
				if fa.Key == fb.Key && fa.Figure.Name == fb.Figure.Name && fa.Figure.Kind == fb.Figure.Kind {
					out = append(out, difference(sa.ID, fa.Key, fa.Figure, fb.Figure))
				}
			}
		}
	}
	return out
}

func difference(step, key string, a, b Figure) Difference {
	d := Difference{Step: step, Key: key, Figure: a.Name, Kind: a.Kind, A: *a.Value, B: *b.Value, By: *b.Value - *a.Value, U: math.Hypot(a.U, b.U),
		Known: a.U > 0 && b.U > 0, ShownA: a.Shown, ShownB: b.Shown}
	d.Differs = math.Abs(d.By) > d.U && math.Abs(d.By) > 1e-12*max(math.Abs(d.A), math.Abs(d.B))
	d.ShownBy = calc.ShowLike(d.Kind, d.By, a.Shown)
	if d.Known {
		d.ShownU = calc.ShowLike(d.Kind, d.U, a.ShownU)
	}
	return d
}

// inForce lists the scalar figures of a step's pass in force.
func inForce(st Step) []runFigure {
	if st.InForce == 0 {
		return nil
	}
	var out []runFigure
	for _, r := range st.shownPass().Runs {
		for _, f := range r.Figures {
			if f.Value != nil {
				out = append(out, runFigure{r.Key, f})
			}
		}
	}
	return out
}

// Point is one dimension as one build found it.
type Point struct {
	Bench   string        `json:"bench"`
	Job     string        `json:"job"`
	Engine  string        `json:"engine"`
	At      string        `json:"at"` // when its pass was ended
	Step    string        `json:"step"`
	Name    string        `json:"name"`
	Kind    quantity.Kind `json:"kind"`
	Value   float64       `json:"value"`
	U       float64       `json:"expanded_uncertainty,omitempty"` // 0 for a bare reading
	Shown   calc.Shown    `json:"shown"`
	ShownU  calc.Shown    `json:"shown_uncertainty"`
	Lower   *float64      `json:"lower,omitempty"` // limits of the figure in that build
	Upper   *float64      `json:"upper,omitempty"`
	Hours   *float64      `json:"hours,omitempty"`  // that the engine had run by then, where they were told
	By      *float64      `json:"change,omitempty"` // since the build before
	Changed bool          `json:"changed,omitempty"`
	ShownBy calc.Shown    `json:"shown_change"`
}

// History follows one dimension over builds, oldest first: a point of a step ("bore/left.top.thrust"), or a figure of
// it ("bore/left.diameter_max"; the run before the last dot). The step may be left out where the name is found in one
// step only. A change counts as one where it exceeds √(U² + U²) of the two. Wraps ErrNoDimension.
func History(builds []Sheet, name string) ([]Point, error) {
	wantStep, wantName, hasStep := strings.Cut(name, "/")
	if !hasStep {
		wantStep, wantName = "", name
	}
	var out []Point
	steps := map[string]bool{}
	for _, s := range builds {
		for _, st := range s.Steps {
			if wantStep != "" && st.ID != wantStep {
				continue
			}
			if p, ok := dimension(st, wantName); ok {
				p.Bench, p.Job, p.Engine = s.Bench, s.Job, s.Engine
				out = append(out, p)
				steps[st.ID] = true
			}
		}
	}
	switch {
	case len(out) == 0:
		return nil, fmt.Errorf("%w as %q: name a point or a figure of a pass that is closed, as \"STEP/POINT\" or \"STEP/RUN.FIGURE\"; build show lists them", ErrNoDimension, name)
	case len(steps) > 1:
		var names []string
		for id := range steps {
			names = append(names, id+"/"+wantName)
		}
		slices.Sort(names)
		return nil, fmt.Errorf("%w as %q alone: it is in several steps, say which: %s", ErrNoDimension, name, strings.Join(names, ", "))
	}
	slices.SortStableFunc(out, func(a, b Point) int { return strings.Compare(a.At, b.At) })
	for i := 1; i < len(out); i++ {
		by := out[i].Value - out[i-1].Value
		u := math.Hypot(out[i].U, out[i-1].U)
		out[i].By, out[i].Changed = &by, u > 0 && math.Abs(by) > u
		out[i].ShownBy = calc.ShowLike(out[i].Kind, by, out[i].Shown)
	}
	return out, nil
}

// dimension finds a figure, or else the standing reading of a point, in a step's pass in force.
func dimension(st Step, name string) (Point, bool) {
	if st.InForce == 0 {
		return Point{}, false
	}
	pass := st.shownPass()
	p := Point{Step: st.ID, Name: name, At: pass.Opened.At}
	if pass.Ended != nil {
		p.At = pass.Ended.At
	}
	for _, f := range inForce(st) {
		full := f.Figure.Name
		if f.Key != "" {
			full = f.Key + "." + full
		}
		if full == name {
			p.Kind, p.Value, p.U, p.Shown, p.ShownU = f.Figure.Kind, *f.Figure.Value, f.Figure.U, f.Figure.Shown, f.Figure.ShownU
			for _, l := range st.Limits {
				if l.Figure == f.Figure.Name {
					p.Lower, p.Upper = l.Lower, l.Upper
				}
			}
			return p, true
		}
	}
	for _, r := range slices.Backward(pass.Readings) {
		if r.Point == name && !r.Withdrawn {
			p.Kind, p.Value, p.Shown = r.Kind, r.Value, r.Shown
			return p, true
		}
	}
	return Point{}, false
}

// Ref is how a point's build is named among those of several benches: BENCH/JOB. No name of either has a slash in it.
func (p Point) Ref() string { return p.Bench + "/" + p.Job }

// ofSeveralBenches reports whether points come from more than one bench.
func ofSeveralBenches(points []Point) bool {
	return slices.ContainsFunc(points, func(p Point) bool { return p.Bench != points[0].Bench })
}

// HistoryChart draws a history as SVG that stands by itself.
func HistoryChart(points []Point, sys quantity.System) (svg string, ok bool) {
	if len(points) == 0 {
		return "", false
	}
	s := chart.Series{Title: points[0].Step + ": " + runName(label(points[0].Name)), Kind: points[0].Kind}
	for _, p := range points {
		at, err := time.Parse(time.RFC3339, p.At)
		if err != nil {
			return "", false
		}
		job := p.Job
		if ofSeveralBenches(points) {
			job = p.Ref()
		}
		s.Values = append(s.Values, chart.Value{Label: "job " + job, At: at, Value: p.Value, U: p.U})
	}
	svg, ok = chart.History(s, sys)
	if !ok {
		return "", false
	}
	return chart.Standalone(svg), true
}
