package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// bound is a binding with references, and the path that leads to it in the inputs table.
type bound struct {
	Binding
	path []any
}

// boundIn lists every binding with references, those inside of objects included, in a fixed order.
func boundIn(inputs map[string]Binding) []bound {
	var out []bound
	var look func(inputs map[string]Binding, at []any)
	look = func(inputs map[string]Binding, at []any) {
		for _, name := range slices.Sorted(maps.Keys(inputs)) {
			b := inputs[name]
			path := append(at[:len(at):len(at)], name)
			if b.Refs != nil {
				out = append(out, bound{b, path})
			}
			if b.Rec != nil {
				look(b.Rec, path)
			}
			for i, rec := range b.Recs {
				look(rec, append(path[:len(path):len(path)], i))
			}
		}
	}
	look(inputs, nil)
	return out
}

// inputPos is the place of an input of one of the step's computations in the file.
func (s *stepDraft) inputPos(of int, path []any) pos {
	from := s.from[of]
	if from.made {
		return s.n.at(from.path...)
	}
	return s.n.at(append(append(slices.Clone(from.path), "inputs"), path...)...)
}

// input finds the declaration that the path of a binding leads to.
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

// checkCompute follows every reference of one of a step's computations, for every run of its method.
func (d *draft) checkCompute(s *stepDraft, of int, c *Compute) {
	m := d.methods[c.Method]
	told := map[pos]bool{} // one run's fault is enough
	tell := func(at pos, format string, args ...any) {
		if !told[at] {
			told[at] = true
			d.fs.add(at, s.where, format, args...)
		}
	}
	all := boundIn(c.Inputs)
	for _, key := range d.own(s.Step, c) {
		for _, b := range all {
			in := input(m.Inputs, b.path)
			for k, r := range b.Refs {
				if why := d.checkRef(s, of, c, in, b.Binding, r, key); why != "" {
					path := b.path
					if b.Many {
						path = append(path[:len(path):len(path)], k)
					}
					tell(s.inputPos(of, path), "input %s: %s", in.Name, why)
				}
			}
		}
		if p := c.ApproachPoint; p != "" {
			if _, ok := s.Point(FillRun(p, key)); !ok {
				tell(s.n.at(append(slices.Clone(s.from[of].path), "approach", "point")...), "approach: the step has no point %s%s", quoted(FillRun(p, key)), guess(FillRun(p, key), pointIDs(s.Points)))
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
func (d *draft) checkRef(s *stepDraft, of int, c *Compute, in calc.Input, b Binding, written Ref, key string) string {
	if c.Before && written.Kind != RefEngine && written.Kind != RefFigure {
		return quoted(written.Text) + " is read only later; what is told before takes engine data and figures of other steps"
	}
	full, ref := written.Text, written
	if strings.Contains(full, "{") {
		var err error
		full = FillRun(full, key)
		if ref, err = ParseRef(full); err != nil { // once more: the run may have no name for what the braces want
			return err.Error()
		}
	}
	f, why := d.resolve(s, of, ref, key)
	if why != "" {
		return quoted(full) + ": " + why
	}
	if f.spoiled {
		return ""
	}
	if f.late != "" && !b.Optional {
		return fmt.Sprintf("%s: %s; write %s to leave it out until then", quoted(full), f.late, quoted(written.Text+"?"))
	}
	if ref.Kind == RefEngine && f.kind == quantity.Number && f.shape != calc.Text && in.Kind != "" && in.Kind != quantity.Number && in.Kind != calc.AnyKind && in.Shape != calc.Text {
		d.unitForgotten(s.where, ref.Name, in.Kind)
		return ""
	}
	if in.Kind == calc.AnyKind && !d.fs.kept {
		in.Kind = s.computations()[of].kindIn(s.Step)
		if why := mismatch(full, in, b, f); why != "" && f.kind != in.Kind {
			return why + fmt.Sprintf("; say kind = %q where this is computed", f.kind)
		}
	}
	return mismatch(full, in, b, f)
}

// unitForgotten tells of a bare number where it is written, not where it is used.
func (d *draft) unitForgotten(user, name string, kind quantity.Kind) {
	at, ok := d.dataAt[name]
	datum, _ := d.Datum(name)
	if !ok {
		return
	}
	d.fs.add(at, fmt.Sprintf("engine data %q", name), "value is the bare number %s, but %s takes it as %s: write its unit, as \"%s %s\"", datum.Words(), user, kind, datum.Words(), quantity.Base(kind).Code)
}

// noDatum says that engine data is not there, and why.
func (d *draft) noDatum(name string) string {
	if d.leftData[name] {
		return fmt.Sprintf("[engine.%s] is left out with the variants chosen", name)
	}
	return fmt.Sprintf("there is no [engine.%s]%s", name, guess(name, d.engineNames()))
}

// noStep says that a step is not there, and why.
func (d *draft) noStep(id string) string {
	if slices.Contains(d.Left, id) {
		return fmt.Sprintf("step %s is left out with the variants chosen", quoted(id))
	}
	var ids []string
	for _, s := range d.steps {
		ids = append(ids, s.ID)
	}
	return fmt.Sprintf("there is no step %s%s", quoted(id), guess(id, ids))
}

func pointIDs(points []Point) []string {
	ids := make([]string, len(points))
	for i, p := range points {
		ids[i] = p.ID
	}
	return ids
}

// mismatch compares what a reference gives with what the input wants.
func mismatch(full string, in calc.Input, b Binding, f found) string {
	want := in.Shape
	if b.Many && !b.Sum && f.shape == calc.Scalar {
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
func (d *draft) resolve(s *stepDraft, of int, ref Ref, key string) (found, string) {
	switch ref.Kind {
	case RefEngine:
		return d.resolveEngine(ref)
	case RefFigure:
		return d.resolveFigure(s, of, ref)
	}
	from := s
	if ref.Step != "" && ref.Step != s.ID {
		i := d.index(ref.Step)
		if i < 0 {
			return found{}, d.noStep(ref.Step)
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
		return found{}, fmt.Sprintf("step %s has no point %s%s", quoted(from.ID), quoted(ref.Point), guess(ref.Point, pointIDs(from.Points)))
	}
	f := found{kind: from.KindOf(hits[0].ID)}
	// What another step gives is a whole pass of it; of the own step the first pass is looked at.
	if from == s && hits[0].FromPass > 1 && !slices.ContainsFunc(hits, func(p Point) bool { return p.FromPass <= 1 }) {
		f.late = fmt.Sprintf("it is read from pass %d on", hits[0].FromPass)
	}
	return placedKind(ref, hits, f, from)
}

// placedKind adds what the kind of reference gives of the points found.
func placedKind(ref Ref, hits []Point, f found, from *stepDraft) (found, string) {
	row, _ := from.ModeOf(hits[0].ID).Row()
	trace := row.Paired
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
	case RefHeights:
		f.kind, f.shape, f.late = quantity.Length, calc.List, ""
		for _, p := range hits {
			if p.Height == nil {
				return f, fmt.Sprintf("point %s has no height", quoted(p.ID))
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
		return found{}, d.noDatum(ref.Name)
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

func (d *draft) resolveFigure(own *stepDraft, of int, ref Ref) (found, string) {
	i := d.index(ref.Step)
	if i < 0 {
		return found{}, d.noStep(ref.Step)
	}
	s := d.steps[i]
	if s.Compute == nil {
		return found{}, fmt.Sprintf("step %s computes nothing", quoted(ref.Step))
	}
	c := s.ComputeOf(ref.Run)
	if s == own && !slices.Contains(s.computations()[:of], c) {
		return found{}, "a computation can take only what an earlier one of its step gives"
	}
	m := d.methods[c.Method]
	fig := figure(m, ref.Name)
	if fig == nil {
		return found{}, m.Name + " has no figure " + quoted(ref.Name) + figureList(m, ref.Name)
	}
	if keys := d.Keys(s.Step); !slices.Contains(keys, ref.Run) {
		if ref.Run == "" && len(keys) > 0 {
			return found{}, fmt.Sprintf("step %s computes for %s each; say whose figure, as %s", quoted(ref.Step), strings.Join(keys, ", "), quoted("@figure:"+ref.Step+"."+keys[0]+"."+ref.Name))
		}
		return found{}, fmt.Sprintf("step %s has no run %s", quoted(ref.Step), quoted(ref.Run))
	}
	f := found{kind: fig.Kind}
	if f.kind == calc.AnyKind {
		f.kind = c.kindIn(s.Step)
	}
	if ref.Item > 0 {
		if !fig.List || fig.Text {
			return found{}, fmt.Sprintf("%s is one value, and no list to take number %d of", ref.Name, ref.Item)
		}
		return f, ""
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
