package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// eachBinding calls f for every binding with references, those inside of objects included, in a fixed order; path
// leads to it in the inputs table.
func eachBinding(inputs map[string]Binding, f func(path []any, b Binding)) {
	for _, name := range slices.Sorted(maps.Keys(inputs)) {
		b := inputs[name]
		if b.Refs != nil {
			f([]any{name}, b)
		}
		inner := func(at []any, rec map[string]Binding) {
			eachBinding(rec, func(path []any, b Binding) { f(append(slices.Clone(at), path...), b) })
		}
		inner([]any{name}, b.Rec)
		for i, rec := range b.Recs {
			inner([]any{name, i}, rec)
		}
	}
}

// inputPos is the place of an input in the file.
func (s *stepDraft) inputPos(path []any) pos {
	return s.n.at(append([]any{"compute", "inputs"}, path...)...)
}

// input finds the declaration that a path of eachBinding leads to.
func input(inputs []calc.Input, path []any) calc.Input {
	var in calc.Input
	for _, p := range path {
		name, ok := p.(string)
		if !ok {
			continue
		}
		i := slices.IndexFunc(inputs, func(in calc.Input) bool { return in.Name == name || in.Name == calc.AnyName })
		if i < 0 {
			return calc.Input{}
		}
		in = inputs[i]
		inputs = in.Fields
	}
	return in
}

// checkCompute follows every reference of a step, for every run of its method.
func (d *draft) checkCompute(i int, s *stepDraft) {
	m := d.methods[s.Compute.Method]
	told := map[pos]bool{} // one run's fault is enough
	tell := func(at pos, format string, args ...any) {
		if !told[at] {
			told[at] = true
			d.fs.add(at, s.where, format, args...)
		}
	}
	for _, key := range d.Keys(s.Step) {
		eachBinding(s.Compute.Inputs, func(path []any, b Binding) {
			in := input(m.Inputs, path)
			at := s.inputPos(path)
			for k, r := range b.Refs {
				if b.Many {
					at = s.inputPos(append(slices.Clone(path), k))
				}
				if why := d.checkRef(s, in, b, r, key); why != "" {
					tell(at, "input %s: %s", in.Name, why)
				}
			}
		})
		if p := s.Compute.ApproachPoint; p != "" {
			if _, ok := s.Point(FillRun(p, key)); !ok {
				tell(s.n.at("compute", "approach", "point"), "approach: the step has no point %s", quoted(FillRun(p, key)))
			}
		}
	}
}

// found is what a reference gives: its kind, and whether it is one value, several, a grid, or words.
type found struct {
	kind  quantity.Kind
	shape calc.Shape
	late  string // why there may be nothing in the first pass, "" where there is something
	// spoiled is set for engine data whose own fault was told already.
	spoiled bool
}

// checkRef says what is wrong with a reference for one run, "" where nothing is.
func (d *draft) checkRef(s *stepDraft, in calc.Input, b Binding, written Ref, key string) string {
	full := FillRun(written.Text, key)
	ref, err := ParseRef(full) // once more: the run may have no name for what the braces want
	if err != nil {
		return err.Error()
	}
	f, why := d.resolve(s, ref, key)
	if why != "" {
		return quoted(full) + ": " + why
	}
	if f.spoiled {
		return ""
	}
	if f.late != "" && !b.Optional {
		return fmt.Sprintf("%s: %s; write %s to leave it out until then", quoted(full), f.late, quoted(written.Text+"?"))
	}
	return mismatch(full, in, b, f)
}

// mismatch compares what a reference gives with what the input wants.
func mismatch(full string, in calc.Input, b Binding, f found) string {
	want := in.Shape
	if b.Many && f.shape == calc.Scalar {
		f.shape = calc.List
	}
	if want == calc.List && f.shape == calc.Scalar {
		f.shape = calc.List // one reading stands for a list of one
	}
	if want == calc.TextList && f.shape == calc.Text {
		f.shape = calc.TextList
	}
	words := want == calc.Text || want == calc.TextList
	switch {
	case f.shape != want:
		return fmt.Sprintf("%s gives %s, want %s", quoted(full), shapeWords(calc.Input{Shape: f.shape, Kind: f.kind}), shapeWords(in))
	case !words && f.kind != in.Kind && in.Kind != calc.AnyKind:
		return fmt.Sprintf("%s is %s, want %s", quoted(full), f.kind, in.Kind)
	}
	return ""
}

// resolve finds what a reference points at.
func (d *draft) resolve(s *stepDraft, ref Ref, key string) (found, string) {
	switch ref.Kind {
	case RefEngine:
		return d.resolveEngine(ref)
	case RefFigure:
		return d.resolveFigure(ref)
	}
	from := s
	if ref.Step != "" && ref.Step != s.ID {
		i := d.index(ref.Step)
		if i < 0 {
			return found{}, fmt.Sprintf("there is no step %s", quoted(ref.Step))
		}
		from = d.steps[i]
	}
	if ref.Kind == RefReading && ref.Point == "" {
		ref.Point = key
		if key == "" {
			return found{}, "a method that runs once a pass must name the point, as \"@reading:left\""
		}
	}
	// The work grows with runs, references and points multiplied; no plan for an engine comes near this.
	if d.work += len(from.Points); d.work > 5_000_000 {
		return found{}, "the plan refers to too many points to be checked"
	}
	var hits []Point
	for _, p := range from.Points {
		if _, ok := Match(ref.Point, p.ID); ok {
			hits = append(hits, p)
		}
	}
	if len(hits) == 0 {
		return found{}, fmt.Sprintf("step %s has no point %s", quoted(from.ID), quoted(ref.Point))
	}
	f := found{kind: from.Capture.Kind}
	// What another step gives is a whole pass of it; of the own step the first pass is looked at.
	if from == s && hits[0].FromPass > 1 && !slices.ContainsFunc(hits, func(p Point) bool { return p.FromPass <= 1 }) {
		f.late = fmt.Sprintf("it is read from pass %d on", hits[0].FromPass)
	}
	return placedKind(ref, hits, f, from)
}

// placedKind adds what the kind of reference gives of the points found.
func placedKind(ref Ref, hits []Point, f found, from *stepDraft) (found, string) {
	trace := from.Capture.Mode == Trace || hits[0].Mode == Trace
	switch ref.Kind {
	case RefReading:
	case RefPrior:
		f.late = "there is no pass before the first"
	case RefReadings:
		f.shape = calc.List
		if ref.Stars() == 2 {
			f.shape = calc.Grid
			if why := uneven(ref, hits); why != "" {
				return f, why
			}
		}
		if ref.Stars() > 2 {
			return f, "more than two stars"
		}
	case RefAngles:
		f.kind, f.shape, f.late = quantity.Angle, calc.List, ""
		for _, p := range hits {
			if p.Angle == nil {
				return f, fmt.Sprintf("point %s has no angle", quoted(p.ID))
			}
		}
	case RefDepths:
		f.kind, f.shape, f.late = quantity.Length, calc.List, ""
		for _, p := range hits {
			if p.Depth == nil {
				return f, fmt.Sprintf("point %s has no depth", quoted(p.ID))
			}
		}
	case RefSampleAngle, RefSampleValue:
		if !trace {
			return f, fmt.Sprintf("step %s takes no trace there", quoted(from.ID))
		}
		f.shape = calc.List
		if ref.Kind == RefSampleAngle {
			f.kind = quantity.Angle
		}
	}
	return f, ""
}

// uneven says which row of a grid is longer or shorter than the first.
func uneven(ref Ref, hits []Point) string {
	count := map[string]int{}
	var rows []string
	for _, p := range hits {
		stars, _ := Match(ref.Point, p.ID)
		if count[stars[0]] == 0 {
			rows = append(rows, stars[0])
		}
		count[stars[0]]++
	}
	for _, r := range rows[1:] {
		if count[r] != count[rows[0]] {
			return fmt.Sprintf("row %s of the grid has %d points, row %s has %d", quoted(r), count[r], quoted(rows[0]), count[rows[0]])
		}
	}
	return ""
}

func (d *draft) resolveEngine(ref Ref) (found, string) {
	datum, ok := d.Datum(ref.Name)
	if !ok {
		return found{}, fmt.Sprintf("there is no [engine.%s]", ref.Name)
	}
	f := found{kind: datum.Kind}
	switch {
	case datum.List != nil:
		f.shape = calc.List
	case datum.Word != "":
		f.shape = calc.Text
	case !datum.Value.Valid():
		f.spoiled = true
	}
	return f, ""
}

func (d *draft) resolveFigure(ref Ref) (found, string) {
	i := d.index(ref.Step)
	if i < 0 {
		return found{}, fmt.Sprintf("there is no step %s", quoted(ref.Step))
	}
	s := d.steps[i]
	if s.Compute == nil {
		return found{}, fmt.Sprintf("step %s computes nothing", quoted(ref.Step))
	}
	m := d.methods[s.Compute.Method]
	fig := figure(m, ref.Name)
	if fig == nil {
		return found{}, m.Name + " has no figure " + quoted(ref.Name) + figureList(m)
	}
	if keys := d.Keys(s.Step); !slices.Contains(keys, ref.Run) {
		if ref.Run == "" {
			return found{}, fmt.Sprintf("step %s computes for %s each; say whose figure, as %s", quoted(ref.Step), strings.Join(keys, ", "), quoted("@figure:"+ref.Step+"."+keys[0]+"."+ref.Name))
		}
		return found{}, fmt.Sprintf("step %s has no run %s", quoted(ref.Step), quoted(ref.Run))
	}
	f := found{kind: fig.Kind}
	if f.kind == calc.AnyKind {
		f.kind = s.Capture.Kind
	}
	switch {
	case fig.Text && fig.List:
		f.shape = calc.TextList
	case fig.Text:
		f.shape = calc.Text
	case fig.Flag:
		f.shape = calc.Flag
	case fig.Grid:
		f.shape = calc.Grid
	case fig.List:
		f.shape = calc.List
	}
	return f, ""
}
