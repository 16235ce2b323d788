package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// source is where a computation stands in its step: the path to it, and whether the plan made it out of a spread.
type source struct {
	path []any
	made bool
}

// computations lists what a step computes, and where each stands.
func (s *Step) computations() []*Compute {
	var out []*Compute
	if s.Compute != nil {
		out = append(out, s.Compute)
	}
	for i := range s.Also {
		out = append(out, &s.Also[i])
	}
	return out
}

// readComputations reads [step.compute] and [[step.also]], with the spreads of both.
func (d *draft) readComputations(t *table, s *stepDraft) {
	names := map[string]bool{}
	if ct := t.sub("compute"); ct != nil {
		var all []*Compute
		for _, c := range d.readCopies(ct, s) {
			if s.Compute == nil {
				s.Compute = c
			} else {
				s.Also = append(s.Also, *c)
			}
			s.from = append(s.from, source{path: []any{"compute"}})
			all = append(all, c)
		}
		d.readSpread(ct, s, all, names)
	}
	for i, at := range t.subs("also") {
		if !d.applies(at) {
			continue
		}
		name := at.name(at.need("name", "a short name of this computation"), "name", "-")
		before := at.flag("before")
		at.where = t.where + ", also " + quoted(name)
		copies := d.readCopies(at, s)
		if len(copies) == 0 || name == "" {
			continue
		}
		if s.Compute == nil && !before {
			at.fault(at.n.pos, "the step has no [step.compute], which comes first")
			continue
		}
		if names[name] {
			at.fault(at.n.at("name"), "a second computation %s", quoted(name))
			continue
		}
		names[name] = true
		for _, c := range copies {
			c.Name, c.Before = name, before
			s.Also = append(s.Also, *c)
			s.from = append(s.from, source{path: []any{"also", i}})
		}
		d.readSpread(at, s, copies, names)
	}
}

// readCopies reads a computation, once or written out for each of what it is for. One that is written out runs for that
// alone, and all of it may name it: a constant, an answer, an element of a list.
func (d *draft) readCopies(t *table, s *stepDraft) []*Compute {
	var out []*Compute
	for _, v := range d.each(t) {
		one := newTable(t.n, t.fs, t.where, v).as(t.of)
		c := d.readCompute(one, s)
		if c == nil {
			return nil
		}
		if t.n.get("for") != nil {
			d.writtenFor(one, s, c)
		}
		out = append(out, c)
	}
	return out
}

// writtenFor says what a computation that is written out runs for.
func (d *draft) writtenFor(t *table, s *stepDraft, c *Compute) {
	if t.n.get("per") != nil {
		t.fault(t.n.at("per"), "for and per both say how often it runs; use one of them")
	}
	if s.vars.sideIn() != "" {
		t.fault(t.n.at("for"), "for in a step that is written out for each already: leave it out")
	}
	valve, ofValve := t.vars.get(eachValve)
	_, ofBlock := t.vars.get(eachBlock)
	own := t.vars.sideIn()
	switch {
	case ofValve:
		c.Per, own = PerValve, own+"."+valve
	case ofBlock:
		c.Per = PerBlock
	default:
		c.Per = PerCylinder
	}
	c.Of = []string{own}
}

// readSpread reads spread.FIGURE = { upper = … }: a limit on greatest less least of a figure over the runs of a step. It
// becomes a computation of its own; of one run there is no spread.
func (d *draft) readSpread(t *table, s *stepDraft, copies []*Compute, names map[string]bool) {
	all := t.sub("spread")
	if all == nil || len(copies) == 0 {
		return
	}
	c := copies[0]
	m := d.methods[c.Method]
	for _, k := range all.n.keys {
		f := figure(m, k.name)
		switch {
		case f == nil:
			all.fault(k.pos, "%s has no figure %s%s", m.Name, quoted(k.name), figureList(m, k.name))
			continue
		case f.Text || f.Flag || f.List || f.Grid:
			all.fault(k.pos, "%s is not a single quantity; it has no spread", k.name)
			continue
		case !all.want(k.val, k.name, formTable):
			continue
		}
		kind := f.Kind
		if kind == calc.AnyKind {
			kind = c.kindIn(s.Step)
		}
		name := strings.ReplaceAll(k.name, "_", "-") + "-spread"
		if names[name] && c.Name != "" { // an earlier computation of the step has the same figure limited
			name = c.Name + "-" + name
		}
		spread := Compute{Name: name, Method: "spread", Per: PerPass, Kind: kind, Shown: []string{"range"},
			Inputs: map[string]Binding{}, Limits: map[string]calc.Limit{}}
		d.readLimit(all, k, "range", kind, &spread)
		var refs []Ref
		for _, own := range d.ownOfAll(s.Step, copies) {
			text := "@figure:" + s.ID + "." + keyed(own, c.Name) + "." + k.name
			if ref, err := ParseRef(text); err == nil {
				refs = append(refs, ref)
			}
		}
		if len(refs) < 2 || names[name] {
			continue
		}
		names[name] = true
		spread.Inputs["values"] = Binding{Refs: refs, Many: true}
		s.Also = append(s.Also, spread)
		s.from = append(s.from, source{path: append(slices.Clone(s.from[len(s.from)-1].path), "spread", k.name), made: true})
	}
}

// ownOfAll lists what the copies of one computation run for.
func (p *Plan) ownOfAll(s Step, copies []*Compute) []string {
	var out []string
	for _, c := range copies {
		out = append(out, p.own(s, c)...)
	}
	return out
}

// readCompute reads one computation; what its references point at is checked once every step has been read.
func (d *draft) readCompute(t *table, s *stepDraft) *Compute {
	c := &Compute{Inputs: map[string]Binding{}}
	t.ignore("spread", "for")
	t.lateKeys("when", "name", "before")
	c.FromPass = t.count("from_pass", 0, 2, 99)
	c.Kind = word(t, "kind", "", kinds...)
	n := t.need("method", "the name of a computation")
	c.Method = t.line("method")
	c.Told = t.long("told")
	c.Per = word(t, "per", PerPass, PerPass, PerPoint, PerCylinder, PerValve, PerBlock, PerOther)
	c.Points = t.patterns(s)
	if len(c.Points) > 0 && c.Per != PerPoint {
		t.fault(t.n.at("points"), "points is for per = \"point\"")
	}
	if s.vars.sideIn() != "" && slices.Contains([]Per{PerCylinder, PerValve, PerBlock, PerOther}, c.Per) {
		t.fault(t.n.at("per"), "per = %q in a step that is written out for each cylinder already: use \"pass\" or \"point\"", c.Per)
		c.Per = PerPass
	}
	if c.Per == PerValve && len(d.Valves) == 0 {
		t.fault(t.n.at("per"), "per = \"valve\", but the plan names no valves")
	}
	m, known := d.methods[c.Method]
	if !known {
		if n != nil && c.Method != "" {
			t.fault(n.pos, "no method %s%s", quoted(c.Method), meant(c.Method, slices.Sorted(maps.Keys(d.methods))))
		}
		t.ignore("inputs", "limits", "words", "shown", "called", "approach")
		t.done()
		return nil
	}
	if in := t.sub("inputs"); in != nil {
		written := d.expandRecords(in, in.n)
		in.n = d.withAnswers(in, written)
		in.bindings(m.Inputs, "the method "+m.Name, c.Inputs)
		if d.fs.everyAnswer {
			d.otherAnswers(in, written, m)
		}
	} else if t.n.get("inputs") == nil {
		t.fault(t.n.pos, "inputs is missing")
	}
	d.readLimits(t, s, m, c)
	t.readWords(c)
	if n := t.get("called"); n != nil && t.want(n, "called", formText) {
		c.Called = t.prose(n, "called", longID)
	}
	for _, sn := range t.list("shown", formText) {
		if name := t.name(sn, "shown", "_"); name != "" && figure(m, name) == nil {
			t.fault(sn.pos, "%s has no figure %s%s", m.Name, quoted(name), figureList(m, name))
		} else if name != "" {
			c.Shown = append(c.Shown, name)
		}
	}
	t.readApproach(m, c)
	t.done()
	return c
}

// patterns reads points: patterns, each of which some point of the step fits.
func (t *table) patterns(s *stepDraft) []string {
	var out []string
	for _, n := range t.list("points", formText) {
		pattern := t.vars.id(t.raw(n, "points", longID))
		if pattern != "" && !slices.ContainsFunc(s.Points, func(p Point) bool { _, ok := Match(pattern, p.ID); return ok }) {
			t.fault(n.pos, "points: the step has no point %s%s", quoted(pattern), guess(pattern, pointIDs(s.Points)))
		}
		out = append(out, pattern)
	}
	return out
}

// readWords reads words: direction words of the plan in place of the method's.
func (t *table) readWords(c *Compute) {
	wt := t.sub("words")
	if wt == nil {
		return
	}
	c.Words = map[string]string{}
	for _, k := range wt.n.keys {
		if !isName(k.name, "-_") {
			wt.fault(k.pos, "%s is no direction word", quoted(k.name))
			continue
		}
		c.Words[k.name] = wt.prose(k.val, k.name, longLine)
	}
}

// readApproach reads approach: the figure a part is moved to the middle of, and the point the gauge stands on meanwhile.
func (t *table) readApproach(m calc.Method, c *Compute) {
	at := t.sub("approach")
	if at == nil {
		return
	}
	fn := at.need("figure", "the figure to be brought within its limits")
	if c.ApproachFigure = at.name(fn, "figure", "_"); c.ApproachFigure != "" {
		if figure(m, c.ApproachFigure) == nil {
			at.fault(fn.pos, "%s has no figure %s%s", m.Name, quoted(c.ApproachFigure), figureList(m, c.ApproachFigure))
		} else if _, ok := c.Limits[c.ApproachFigure]; !ok {
			at.fault(fn.pos, "figure %s has no limits here, so there is nothing to bring it to", quoted(c.ApproachFigure))
		}
	}
	at.need("point", "the point the gauge stands on meanwhile")
	c.ApproachPoint = at.text(at.n.get("point"), "point", longID)
	at.done()
}

func figure(m calc.Method, name string) *calc.Figure {
	for i := range m.Figures {
		if m.Figures[i].Name == name {
			return &m.Figures[i]
		}
	}
	return nil
}

// figureList is the tail of a message about a figure that is not there.
func figureList(m calc.Method, wrong string) string {
	names := make([]string, len(m.Figures))
	for i, f := range m.Figures {
		names[i] = f.Name
	}
	if near := nearest(wrong, names); near != "" {
		return fmt.Sprintf("; did you mean %q? It has %s", near, strings.Join(names, ", "))
	}
	return "; it has " + strings.Join(names, ", ")
}

// readLimits reads limits.FIGURE = {lower, upper, source}; a side is a quantity or "@engine.NAME".
func (d *draft) readLimits(t *table, s *stepDraft, m calc.Method, c *Compute) {
	all := t.sub("limits")
	if all == nil {
		return
	}
	c.Limits = map[string]calc.Limit{}
	for _, k := range all.n.keys {
		f := figure(m, k.name)
		if f == nil {
			all.fault(k.pos, "%s has no figure %s%s", m.Name, quoted(k.name), figureList(m, k.name))
			continue
		}
		if f.Text || f.Flag {
			all.fault(k.pos, "%s is no quantity; it has no limits", k.name)
			continue
		}
		if !all.want(k.val, k.name, formTable) {
			continue
		}
		kind := f.Kind
		if kind == calc.AnyKind {
			kind = c.kindIn(s.Step) // what the readings are, the figures are
		}
		d.readLimit(all, k, k.name, kind, c)
	}
}

// kindIn is what a method for any kind computes with in a step.
func (c *Compute) kindIn(s Step) quantity.Kind {
	if c.Kind != "" {
		return c.Kind
	}
	return s.Capture.Kind
}

// readLimit reads one limit into a computation, for a figure of a kind.
func (d *draft) readLimit(all *table, k field, figure string, kind quantity.Kind, c *Compute) {
	lt := newTable(k.val, d.fs, within(all.where, k.name), all.vars).as(keyTable("limit"))
	lim := calc.Limit{}
	var data LimitData
	lim.Lower, data.Lower = d.side(lt, "lower", kind, &lim.Source)
	lim.Upper, data.Upper = d.side(lt, "upper", kind, &lim.Source)
	if lt.n.get("source") != nil || lim.Source == "" {
		lim.Source = readSource(lt)
	}
	if lim.Source == CommonPractice && data == (LimitData{}) {
		lt.fault(lt.n.at("source"), "a limit of common practice must be engine data that the builder confirms: put it under [engine.…] with confirm = true and say lower or upper = \"@engine.…\"")
	}
	if lt.n.get("from_pass") != nil {
		if c.LimitFrom == nil {
			c.LimitFrom = map[string]int{}
		}
		c.LimitFrom[figure] = lt.count("from_pass", 1, 2, 99)
	}
	if lt.n.get("told") != nil {
		c.Told = lt.long("told")
	}
	switch {
	case lt.n.get("lower") == nil && lt.n.get("upper") == nil:
		lt.fault(lt.n.pos, "want lower, upper or both")
	case lim.Lower != nil && lim.Upper != nil && *lim.Lower >= *lim.Upper:
		lt.fault(lt.n.at("lower"), "the limits are the wrong way round: lower %s is not below upper %s",
			quoted(lt.n.get("lower").text), quoted(lt.n.get("upper").text))
	}
	lt.done()
	c.Limits[figure] = lim
	if data != (LimitData{}) {
		if c.LimitData == nil {
			c.LimitData = map[string]LimitData{}
		}
		c.LimitData[figure] = data
	}
}

// side reads one side of a limit; data names the engine data it came from, whose source is taken over.
func (d *draft) side(t *table, key string, kind quantity.Kind, source *string) (limit *float64, data string) {
	n := t.get(key)
	if n == nil {
		return nil, ""
	}
	v, data, ok := d.engineOr(t, n, key, kind)
	if !ok {
		return nil, ""
	}
	if datum, isData := d.Datum(data); isData {
		*source = datum.Source
	}
	x := v.Float()
	return &x, data
}

// engineOr reads a quantity, or "@engine.NAME" for one that is engine data; data then names it.
func (d *draft) engineOr(t *table, n *node, key string, kind quantity.Kind) (v quantity.Value, data string, ok bool) {
	if !isRef(n) {
		v, ok = t.quantity(n, key, kind)
		return v, "", ok
	}
	ref, err := ParseRef(t.vars.id(t.raw(n, key, longID)))
	if err != nil || ref.Kind != RefEngine {
		t.fault(n.pos, "%s is %s; here stands a quantity or \"@engine.NAME\"", key, quoted(n.text))
		return v, "", false
	}
	datum, found := d.Datum(ref.Name)
	switch {
	case !found:
		t.fault(n.pos, "%s: %s", key, d.noDatum(ref.Name))
	case !datum.Value.Valid():
		t.fault(n.pos, "%s: [engine.%s] is not a single quantity", key, ref.Name)
	case datum.Kind == quantity.Number && kind != quantity.Number && kind != "":
		d.unitForgotten(t.where, ref.Name, kind)
	case datum.Kind != kind:
		t.fault(n.pos, "%s: [engine.%s] is %s, want %s", key, ref.Name, datum.Kind, kind)
	default:
		return datum.Value, ref.Name, true
	}
	return v, "", false
}
