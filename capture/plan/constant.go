package plan

import (
	"thoud/calc"
	"thoud/calc/quantity"
)

// shapeWords says in words what an input wants.
func shapeWords(in calc.Input) string {
	of := string(in.Kind)
	if in.Kind == quantity.Number || in.Kind == "" {
		of = "number"
	}
	switch in.Shape {
	case calc.Scalar:
		return "one " + of
	case calc.List:
		return "a list of quantities (" + of + ")"
	case calc.Grid:
		return "a list of lists of quantities (" + of + ")"
	case calc.Text:
		return "a word"
	case calc.TextList:
		return "a list of words"
	case calc.Flag:
		return "true or false"
	case calc.Record:
		return "a table"
	}
	return "a list of tables"
}

// constant reads a value written in the plan for an input of a method, in the base unit of its kind.
func (t *table) constant(n *node, in calc.Input) (calc.Val, bool) {
	var v calc.Val
	switch in.Shape {
	case calc.Scalar:
		x, ok := t.number(n, in)
		v.Num = &x
		return v, ok
	case calc.List:
		xs, ok := t.numbers(n, in)
		v.List = xs
		return v, ok
	case calc.Grid:
		if !t.want(n, in.Name, formList) {
			return v, false
		}
		for _, row := range n.items {
			xs, ok := t.numbers(row, in)
			if !ok {
				return v, false
			}
			v.Grid = append(v.Grid, xs)
		}
		return v, true
	case calc.Text:
		s := t.prose(n, in.Name, longLine)
		v.Text = s
		return v, s != "" && t.understood(n, in, s)
	case calc.TextList:
		if !t.want(n, in.Name, formList) {
			return v, false
		}
		for _, item := range n.items {
			s := t.prose(item, in.Name, longLine)
			if s == "" || !t.understood(item, in, s) {
				return v, false
			}
			v.Texts = append(v.Texts, s)
		}
		return v, true
	case calc.Flag:
		on := n.text == "true"
		v.Flag = &on
		return v, t.want(n, in.Name, formFlag)
	case calc.Record:
		if !t.want(n, in.Name, formTable) {
			return v, false
		}
		v.Rec = t.record(n, in)
		return v, true
	case calc.Records:
		if !t.want(n, in.Name, formList) {
			return v, false
		}
		for _, item := range n.items {
			if !t.want(item, in.Name, formTable) {
				return v, false
			}
			v.Recs = append(v.Recs, t.record(item, in))
		}
		t.marksOnce(n, in)
		return v, true
	}
	return v, false
}

func (t *table) understood(n *node, in calc.Input, s string) bool {
	if len(in.Enum) == 0 {
		return true
	}
	list := ""
	for _, w := range in.Enum {
		if s == w {
			return true
		}
		list += " " + w
	}
	t.fault(n.pos, "%s is %s, want one of:%s", in.Name, quoted(s), list)
	return false
}

func (t *table) record(n *node, in calc.Input) map[string]calc.Val {
	bound := map[string]Binding{}
	newTable(n, t.fs, within(t.where, in.Name), t.vars).bindings(in.Fields, in.Name, bound)
	out := map[string]calc.Val{}
	for name, b := range bound {
		if b.Const != nil {
			out[name] = *b.Const
		}
	}
	return out
}

func (t *table) numbers(n *node, in calc.Input) ([]calc.Num, bool) {
	if !t.want(n, in.Name, formList) {
		return nil, false
	}
	if len(n.items) == 0 {
		t.fault(n.pos, "%s is an empty list", in.Name)
		return nil, false
	}
	out := make([]calc.Num, 0, len(n.items))
	for _, item := range n.items {
		x, ok := t.number(item, in)
		if !ok {
			return nil, false
		}
		out = append(out, x)
	}
	return out, true
}

// number reads "0.050 in", or { value = "0.050 in", u = "0.0005 in" } with a stated standard uncertainty.
func (t *table) number(n *node, in calc.Input) (calc.Num, bool) {
	at := t
	val := n
	var u *node
	if n.form == formTable {
		at = newTable(n, t.fs, within(t.where, in.Name), t.vars)
		val = at.need("value", "the quantity")
		u = at.get("u")
		at.done()
	}
	v, ok := at.quantity(val, in.Name, in.Kind)
	if !ok {
		return calc.Num{}, false
	}
	x := calc.Num{X: v.Float()}
	if in.Positive && x.X <= 0 {
		at.fault(val.pos, "%s is %s, want more than nothing", in.Name, v)
		return x, false
	}
	if u != nil {
		kind := in.Kind
		if kind == quantity.Temperature {
			kind = quantity.Difference
		}
		uv, ok := at.quantity(u, "u", kind)
		if !ok {
			return x, false
		}
		if uv.Float() < 0 {
			at.fault(u.pos, "u is %s; a standard uncertainty is not negative", uv)
			return x, false
		}
		x.Us = []calc.Component{{Name: "stated", U: uv.Float()}}
	}
	return x, true
}
