package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc"
)

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
		if in.Optional && in.Shape == calc.Records && n.form == formList && len(n.items) == 0 {
			continue // written out for the other cylinders of an engine that has one
		}
		if b, ok := t.binding(n, in); ok {
			out[in.Name] = b
		}
	}
	for _, k := range t.n.keys {
		if !slices.Contains(names, k.name) {
			t.fault(k.pos, "%s has no input %s%s; it has %s", of, quoted(k.name), guess(k.name, names), strings.Join(names, ", "))
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
	case in.Shape == calc.Scalar && n.form == formTable && n.get("sum") != nil:
		return t.sum(n, in)
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
		t.marksOnce(n, in)
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

// marksOnce refuses a list of tables in which two have one name: a part that is assigned, weighed or chosen twice.
func (t *table) marksOnce(n *node, in calc.Input) {
	seen := map[string]bool{}
	for _, item := range n.items {
		mark := item.get("name")
		if mark == nil || mark.form != formText || strings.HasPrefix(mark.text, "@") {
			continue
		}
		text := t.vars.fill(mark.text)
		if seen[text] {
			t.newer(mark.pos, "%s lists %s twice: one part cannot be in two places; give each its own mark", in.Name, quoted(text))
		}
		seen[text] = true
	}
}

// sum reads { sum = ["@reading:left", "@engine.step"] }: one value out of several that are added up.
func (t *table) sum(n *node, in calc.Input) (Binding, bool) {
	st := newTable(n, t.fs, within(t.where, in.Name), t.vars)
	b := Binding{Many: true, Sum: true}
	for _, item := range st.list("sum", formText) {
		if !isRef(item) {
			st.fault(item.pos, "sum adds up references; put the constant under [engine.…] and refer to it")
			return b, false
		}
		ref, opt := st.reference(item, in.Name)
		if ref.Kind == "" {
			return b, false
		}
		b.Refs, b.Optional = append(b.Refs, ref), b.Optional || opt
	}
	st.done()
	return b, len(b.Refs) > 0
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
