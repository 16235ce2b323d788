package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc"
)

// Preview is what would come of some changes: every figure that would be another, the verdicts that turn, the orders that
// follow, the steps that would be reopened, what would be asked about.
type Preview struct {
	Job     string          `json:"job,omitempty"`
	Engine  string          `json:"engine,omitempty"`
	Changes []Change        `json:"changes"`
	Figures []PreviewFigure `json:"figures"`
	Orders  []PreviewOrder  `json:"orders"`
	Reopens []PreviewReopen `json:"reopens"`
	Asks    []string        `json:"asks"`            // engine data that would be asked about
	Loses   []string        `json:"loses,omitempty"` // what of it cannot be kept
	Own     []string        `json:"own,omitempty"`   // builds that keep a value of their own
	Keeps   bool            `json:"can_be_kept"`
}

// PreviewStep says where in which build something stands.
type PreviewStep struct {
	Job   string `json:"job"`
	Step  string `json:"step"`
	Title string `json:"title"`
	Pass  int    `json:"pass,omitempty"`
	Key   string `json:"key,omitempty"`
}

// PreviewFigure is a figure that would be another.
type PreviewFigure struct {
	PreviewStep
	Figure string       `json:"figure"`
	Old    PreviewValue `json:"old"`
	New    PreviewValue `json:"new"`
	Turns  bool         `json:"turns,omitempty"` // its verdict would be another
}

// PreviewValue is a figure for people.
type PreviewValue struct {
	Shown   calc.Shown   `json:"shown"`
	U       calc.Shown   `json:"u"`
	Verdict calc.Verdict `json:"verdict,omitempty"`
}

// PreviewOrder is what would be told instead; either may be empty.
type PreviewOrder struct {
	PreviewStep
	Old calc.Shown `json:"old"`
	New calc.Shown `json:"new"`
}

// PreviewReopen is a signed step that would be opened again.
type PreviewReopen struct {
	PreviewStep
	Why string `json:"why"`
}

// Standing is a state and the results in force with it.
type Standing struct {
	State   State
	Results Results
}

// PreviewOf holds two standings against each other. changed are the results that came between, reopened the entries that
// reopened steps.
func PreviewOf(before, after Standing, changed []Result, reopened []Entry) Preview {
	p := Preview{Changes: []Change{}, Figures: []PreviewFigure{}, Orders: []PreviewOrder{}, Reopens: []PreviewReopen{}, Asks: []string{}}
	seen := map[Slot]bool{}
	for _, r := range changed {
		if seen[r.Slot()] {
			continue
		}
		seen[r.Slot()] = true
		was, _ := before.Results.Get(r.Slot())
		now, _ := after.Results.Get(r.Slot())
		at := placeOfResult(after.State, r)
		p.Figures = append(p.Figures, figuresThatChange(at, was, now)...)
		p.Orders = append(p.Orders, ordersThatChange(at, was, now)...)
	}
	for _, e := range reopened {
		at := placeOfResult(after.State, Result{Build: e.Place.Build, Step: e.Place.Step})
		p.Reopens = append(p.Reopens, PreviewReopen{at, e.Reason})
	}
	for _, b := range after.State.Builds {
		was, ok := before.State.Build(b.Job)
		if !ok || b.Closed || b.Plan == nil {
			continue
		}
		for _, d := range b.Plan.Engine {
			now, _ := b.Datum(d.Name)
			if old, _ := was.Datum(d.Name); now.Confirm && !old.Confirm && !slices.Contains(p.Asks, now.Title) {
				p.Asks = append(p.Asks, now.Title)
			}
		}
	}
	return p
}

func placeOfResult(s State, r Result) PreviewStep {
	at := PreviewStep{Job: r.Build, Step: r.Step, Title: r.Step, Pass: r.Pass, Key: r.Key}
	if b, ok := s.Build(r.Build); ok && b.Plan != nil {
		if step, ok := b.Plan.Step(r.Step); ok {
			at.Title = step.Title
		}
	}
	return at
}

// figuresThatChange lists the figures of a result that are others; a result that is refused, or is refused no longer,
// counts as one.
func figuresThatChange(at PreviewStep, was, now Result) []PreviewFigure {
	var out []PreviewFigure
	if was.Refused != now.Refused {
		out = append(out, PreviewFigure{PreviewStep: at, Figure: "answer", Old: refusedOr(was), New: refusedOr(now), Turns: true})
	}
	names := []string{}
	for _, f := range append(slices.Clone(was.Figures), now.Figures...) {
		if !slices.Contains(names, f.Name) {
			names = append(names, f.Name)
		}
	}
	for _, name := range names {
		old, _ := was.Figure(name)
		next, _ := now.Figure(name)
		if old.Shown == next.Shown && old.ShownU == next.ShownU && old.Verdict == next.Verdict && sameFigure(old, next) {
			continue
		}
		out = append(out, PreviewFigure{PreviewStep: at, Figure: name, Old: previewValue(old), New: previewValue(next), Turns: old.Verdict != next.Verdict})
	}
	return out
}

func refusedOr(r Result) PreviewValue {
	words := r.Refused
	if words == "" {
		words = "there is one"
	}
	return PreviewValue{Shown: calc.Shown{MM: words, Inch: words}}
}

func sameFigure(a, b calc.FigureResult) bool {
	if (a.Value == nil) != (b.Value == nil) {
		return false
	}
	return a.Value == nil || math.Abs(*a.Value-*b.Value) <= 1e-9*math.Max(math.Abs(*a.Value), 1e-6)
}

func previewValue(f calc.FigureResult) PreviewValue {
	return PreviewValue{Shown: f.Shown, U: f.ShownU, Verdict: f.Verdict}
}

// ordersThatChange lists the orders that would be told instead, in their order.
func ordersThatChange(at PreviewStep, was, now Result) []PreviewOrder {
	old, next := was.Orders(), now.Orders()
	var out []PreviewOrder
	for i := range max(len(old), len(next)) {
		var o PreviewOrder
		if i < len(old) {
			o.Old = old[i].Words
		}
		if i < len(next) {
			o.New = next[i].Words
		}
		if o.Old != o.New {
			o.PreviewStep = at
			out = append(out, o)
		}
	}
	return out
}

// Nothing reports whether nothing would follow.
func (p Preview) Nothing() bool {
	return len(p.Figures)+len(p.Orders)+len(p.Reopens)+len(p.Asks) == 0
}

// Words sums a preview up in a line.
func (p Preview) Words() string {
	turns := 0
	for _, f := range p.Figures {
		if f.Turns {
			turns++
		}
	}
	var parts []string
	say := func(n int, one, many string) {
		switch {
		case n == 1:
			parts = append(parts, "1 "+one)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d %s", n, many))
		}
	}
	say(len(p.Figures), "figure changes", "figures change")
	say(turns, "verdict turns", "verdicts turn")
	say(len(p.Orders), "order changes", "orders change")
	say(len(p.Reopens), "signed step is reopened", "signed steps are reopened")
	say(len(p.Asks), "value is asked about", "values are asked about")
	if len(parts) == 0 {
		return "no figure hangs on it yet"
	}
	return strings.Join(parts, ", ")
}
