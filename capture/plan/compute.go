package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// readCompute reads [step.compute]; what its references point at is checked once every step has been read.
func (d *draft) readCompute(t *table, s *stepDraft) *Compute {
	c := &Compute{Inputs: map[string]Binding{}}
	n := t.need("method", "the name of a computation")
	c.Method = t.line("method")
	c.Per = word(t, "per", PerPass, PerPass, PerPoint, PerCylinder, PerValve)
	if len(s.vars) > 0 && (c.Per == PerCylinder || c.Per == PerValve) {
		t.fault(t.n.at("per"), "per = %q in a step that is written out for each cylinder already: use \"pass\" or \"point\"", c.Per)
		c.Per = PerPass
	}
	if c.Per == PerValve && len(d.Valves) == 0 {
		t.fault(t.n.at("per"), "per = \"valve\", but the plan names no valves")
	}
	m, known := d.methods[c.Method]
	if !known {
		if n != nil && c.Method != "" {
			t.fault(n.pos, "no method %s", quoted(c.Method))
		}
		t.ignore("inputs", "limits", "words", "shown", "approach")
		t.done()
		return nil
	}
	if in := t.sub("inputs"); in != nil {
		in.bindings(m.Inputs, "the method "+m.Name, c.Inputs)
	} else if t.n.get("inputs") == nil {
		t.fault(t.n.pos, "inputs is missing")
	}
	d.readLimits(t, s, m, c)
	if wt := t.sub("words"); wt != nil {
		c.Words = map[string]string{}
		for _, k := range wt.n.keys {
			if !isName(k.name, "-_") {
				wt.fault(k.pos, "%s is no direction word", quoted(k.name))
				continue
			}
			c.Words[k.name] = wt.prose(k.val, k.name, longLine)
		}
	}
	for _, sn := range t.list("shown", formText) {
		if name := t.name(sn, "shown", "_"); name != "" && figure(m, name) == nil {
			t.fault(sn.pos, "%s has no figure %s%s", m.Name, quoted(name), figureList(m))
		} else if name != "" {
			c.Shown = append(c.Shown, name)
		}
	}
	if at := t.sub("approach"); at != nil {
		fn := at.need("figure", "the figure to be brought within its limits")
		c.ApproachFigure = at.name(fn, "figure", "_")
		if c.ApproachFigure != "" {
			if figure(m, c.ApproachFigure) == nil {
				at.fault(fn.pos, "%s has no figure %s%s", m.Name, quoted(c.ApproachFigure), figureList(m))
			} else if _, ok := c.Limits[c.ApproachFigure]; !ok {
				at.fault(fn.pos, "figure %s has no limits here, so there is nothing to bring it to", quoted(c.ApproachFigure))
			}
		}
		at.need("point", "the point the gauge stands on meanwhile")
		c.ApproachPoint = at.text(at.n.get("point"), "point", longID)
		at.done()
	}
	t.done()
	return c
}

func figure(m calc.Method, name string) *calc.Figure {
	for i := range m.Figures {
		if m.Figures[i].Name == name {
			return &m.Figures[i]
		}
	}
	return nil
}

func figureList(m calc.Method) string {
	names := make([]string, len(m.Figures))
	for i, f := range m.Figures {
		names[i] = f.Name
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
			all.fault(k.pos, "%s has no figure %s%s", m.Name, quoted(k.name), figureList(m))
			continue
		}
		if f.Text || f.Flag {
			all.fault(k.pos, "%s is no quantity; it has no limits", k.name)
			continue
		}
		if !all.want(k.val, k.name, formTable) {
			continue
		}
		lt := newTable(k.val, d.fs, within(all.where, k.name), all.vars)
		lim := calc.Limit{}
		var data LimitData
		kind := f.Kind
		if kind == calc.AnyKind {
			kind = s.Capture.Kind // what the readings are, the figures are
		}
		lim.Lower, data.Lower = d.side(lt, "lower", kind, &lim.Source)
		lim.Upper, data.Upper = d.side(lt, "upper", kind, &lim.Source)
		if lt.n.get("source") != nil || lim.Source == "" {
			lim.Source = readSource(lt)
		}
		if lim.Source == CommonPractice && data == (LimitData{}) {
			lt.fault(lt.n.at("source"), "a limit of common practice must be engine data that the builder confirms: put it under [engine.…] with confirm = true and say lower or upper = \"@engine.…\"")
		}
		switch {
		case lt.n.get("lower") == nil && lt.n.get("upper") == nil:
			lt.fault(lt.n.pos, "want lower, upper or both")
		case lim.Lower != nil && lim.Upper != nil && *lim.Lower >= *lim.Upper:
			lt.fault(lt.n.at("lower"), "the limits are the wrong way round: lower %s is not below upper %s",
				quoted(lt.n.get("lower").text), quoted(lt.n.get("upper").text))
		}
		lt.done()
		c.Limits[k.name] = lim
		if data != (LimitData{}) {
			if c.LimitData == nil {
				c.LimitData = map[string]LimitData{}
			}
			c.LimitData[k.name] = data
		}
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
		t.fault(n.pos, "%s: there is no [engine.%s]", key, ref.Name)
	case !datum.Value.Valid():
		t.fault(n.pos, "%s: [engine.%s] is not a single quantity", key, ref.Name)
	case datum.Kind != kind:
		t.fault(n.pos, "%s: [engine.%s] is %s, want %s", key, ref.Name, datum.Kind, kind)
	default:
		return datum.Value, ref.Name, true
	}
	return v, "", false
}

// bindings reads one binding for each declared input into out; of says whose inputs they are.
func (t *table) bindings(inputs []calc.Input, of string, out map[string]Binding) {
	if len(inputs) == 1 && inputs[0].Name == calc.AnyName {
		t.anyNames(inputs[0], out)
		return
	}
	names := make([]string, len(inputs))
	for i, in := range inputs {
		names[i] = in.Name
		n := t.get(in.Name)
		if n == nil {
			if !in.Optional {
				t.fault(t.n.pos, "%s needs the input %s: %s", of, in.Name, in.Doc)
			}
			continue
		}
		if b, ok := t.binding(n, in); ok {
			out[in.Name] = b
		}
	}
	for _, k := range t.n.keys {
		if !slices.Contains(names, k.name) {
			t.fault(k.pos, "%s has no input %s; it has %s", of, quoted(k.name), strings.Join(names, ", "))
		}
	}
}

// anyNames reads an object whose fields may have any name.
func (t *table) anyNames(in calc.Input, out map[string]Binding) {
	for _, k := range t.n.keys {
		if !isName(k.name, "-_") {
			t.fault(k.pos, "%s may hold only lower-case letters, digits, \"-\" and \"_\"", quoted(k.name))
			continue
		}
		in.Name = k.name
		if b, ok := t.binding(k.val, in); ok {
			out[k.name] = b
		}
	}
}

func isRef(n *node) bool { return n.form == formText && strings.HasPrefix(n.text, "@") }

// hasRef looks for a reference anywhere in a value.
func hasRef(n *node) bool {
	if isRef(n) {
		return true
	}
	if slices.ContainsFunc(n.items, hasRef) {
		return true
	}
	return slices.ContainsFunc(n.keys, func(f field) bool { return hasRef(f.val) })
}

// maxRefs is the most references one input may list; patterns with stars serve for more.
const maxRefs = 200

// binding reads where one input comes from.
func (t *table) binding(n *node, in calc.Input) (Binding, bool) {
	switch {
	case isRef(n):
		ref, opt := t.reference(n, in.Name)
		return Binding{Refs: []Ref{ref}, Optional: opt}, ref.Kind != ""
	case !hasRef(n):
		v, ok := t.constant(n, in)
		return Binding{Const: &v}, ok
	case in.Shape == calc.Record && n.form == formTable:
		b := Binding{Rec: map[string]Binding{}}
		newTable(n, t.fs, within(t.where, in.Name), t.vars).bindings(in.Fields, in.Name, b.Rec)
		return b, true
	case in.Shape == calc.Records && n.form == formList:
		var b Binding
		for i, item := range n.items {
			where := fmt.Sprintf("%s[%d]", in.Name, i+1)
			if !t.want(item, where, formTable) {
				return b, false
			}
			rec := map[string]Binding{}
			newTable(item, t.fs, within(t.where, where), t.vars).bindings(in.Fields, in.Name, rec)
			b.Recs = append(b.Recs, rec)
		}
		return b, true
	case n.form == formList:
		b := Binding{Many: true}
		if in.Shape != calc.List && in.Shape != calc.TextList {
			t.fault(n.pos, "%s wants %s, not a list of references", in.Name, shapeWords(in))
			return b, false
		}
		if len(n.items) > maxRefs {
			t.fault(n.pos, "%s lists %d references; at most %d", in.Name, len(n.items), maxRefs)
			return b, false
		}
		for _, item := range n.items {
			if !isRef(item) {
				t.fault(item.pos, "%s mixes references and constants; put the constant under [engine.…] and refer to it", in.Name)
				return b, false
			}
			ref, opt := t.reference(item, in.Name)
			if ref.Kind == "" {
				return b, false
			}
			b.Refs = append(b.Refs, ref)
			b.Optional = b.Optional || opt
		}
		return b, true
	}
	t.fault(n.pos, "%s is %s, want %s", in.Name, n.form, shapeWords(in))
	return Binding{}, false
}

// reference reads "@…" or "@…?"; what it points at is checked once every step has been read, run by run. The Ref of a
// text that is none has no kind.
func (t *table) reference(n *node, key string) (Ref, bool) {
	s, optional := strings.CutSuffix(t.vars.id(t.raw(n, key, 2*longID)), "?")
	if s == "" {
		return Ref{}, optional
	}
	if name := leftover(anyRun(s)); name != "" {
		t.fault(n.pos, "input %s: {%s} in %s stands for nothing here", key, name, quoted(s))
		return Ref{}, optional
	}
	ref, err := ParseRef(s)
	if err != nil {
		t.fault(n.pos, "input %s: %v", key, err)
		return Ref{}, optional
	}
	return ref, optional
}
