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
	"thoud/capture/bench"
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

// Found is what one build found, as it is held against others.
type Found struct {
	Bench, Job, Engine string
	Findings           []bench.Finding // in the order of the steps, see bench.FindingsOf
}

// Compare holds two builds beside each other: every scalar figure that both have, in the order of the first.
func Compare(a, b Found) []Difference {
	type name struct {
		step, method, key, figure string
		kind                      quantity.Kind
	}
	named := func(f bench.Finding) name { return name{f.Step, f.Method, f.Key, f.Figure, f.Kind} }
	other := map[name]bench.Finding{}
	for _, f := range bench.Figures(b.Findings) {
		other[named(f)] = f
	}
	out := []Difference{}
	for _, f := range bench.Figures(a.Findings) {
		if o, ok := other[named(f)]; ok {
			out = append(out, difference(f, o))
		}
	}
	return out
}

func difference(a, b bench.Finding) Difference {
	d := Difference{Step: a.Step, Key: a.Key, Figure: a.Figure, Kind: a.Kind, A: *a.Value, B: *b.Value, By: *b.Value - *a.Value, U: math.Hypot(a.U, b.U),
		Known: a.U > 0 && b.U > 0, ShownA: a.Shown, ShownB: b.Shown}
	d.Differs = math.Abs(d.By) > d.U && math.Abs(d.By) > 1e-12*max(math.Abs(d.A), math.Abs(d.B))
	d.ShownBy = calc.ShowLike(d.Kind, d.By, a.Shown)
	if d.Known {
		d.ShownU = calc.ShowLike(d.Kind, d.U, a.ShownU)
	}
	return d
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
func History(builds []Found, name string) ([]Point, error) {
	wantStep, wantName := SplitDimension(name)
	var out []Point
	steps := map[string]bool{}
	for _, b := range builds {
		for _, f := range b.named(wantStep, wantName) {
			p := Point{Bench: b.Bench, Job: b.Job, Engine: b.Engine, At: when(f.Ended), Step: f.Step, Name: wantName,
				Kind: f.Kind, Value: *f.Value, U: f.U, Shown: f.Shown, ShownU: f.ShownU}
			if f.Limits != nil {
				p.Lower, p.Upper = f.Limits.Lower, f.Limits.Upper
			}
			out = append(out, p)
			steps[f.Step] = true
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

// SplitDimension parts the name of a dimension into its step, "" for any, and its name there.
func SplitDimension(name string) (step, within string) {
	step, within, ok := strings.Cut(name, "/")
	if !ok {
		return "", name
	}
	return step, within
}

// named lists what a build found under a name in a step, "" for any: of each step its figure, or else the standing reading of
// the point.
func (b Found) named(step, name string) []bench.Finding {
	var out []bench.Finding
	for _, f := range b.Findings {
		if f.Value == nil || f.Name() != name || step != "" && f.Step != step {
			continue
		}
		if n := len(out); n == 0 || out[n-1].Step != f.Step { // the figures of a step come before its points
			out = append(out, f)
		}
	}
	return out
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
