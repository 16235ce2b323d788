package form

import (
	"encoding/json"
	"errors"
	"fmt"

	"thoud/calc"
	"thoud/calc/quantity"
)

// bulk is what an object {"value", "unit", …} says about all of its numbers.
type bulk struct {
	value node
	unit  quantity.Unit
	o     object
}

// num reads one quantity in any of its forms.
func (r *reader) num(in calc.Input, n node, field string) (calc.Num, error) {
	switch n := n.(type) {
	case string:
		x, err := r.text(in, n, field)
		return calc.Num{X: x}, err
	case json.Number:
		if err := r.bare(in, n, field); err != nil {
			return calc.Num{}, err
		}
		x, err := plainNumber(n, field)
		return calc.Num{X: x}, err
	case object:
		b, err := r.bulk(in, n, field)
		if err != nil {
			return calc.Num{}, err
		}
		return r.bulkNum(in, b, b.value, field, -1)
	}
	return calc.Num{}, bad(field, describe(n), in.Wanted())
}

// bare accepts a number without a unit where the kind has none.
func (r *reader) bare(in calc.Input, n json.Number, field string) error {
	switch {
	case in.Kind == quantity.Number:
		return nil
	case in.Kind == calc.AnyKind:
		return r.sameKind(quantity.Number, field, n.String())
	}
	return bad(field, n.String()+" without a unit", in.Wanted())
}

// sameKind holds all inputs of any kind to one kind.
func (r *reader) sameKind(kind quantity.Kind, field, given string) error {
	if r.req.Kind == "" {
		r.req.Kind = kind
	}
	if r.req.Kind != kind {
		return bad(field, given, fmt.Sprintf("a %s as the inputs before", r.req.Kind))
	}
	return nil
}

// text reads "0.0375 in". Digits finer than a tenth of a nanometre are no fault here: figures are floating point.
func (r *reader) text(in calc.Input, s, field string) (float64, error) {
	kind := in.Kind
	if kind == calc.AnyKind && r.req.Kind != "" {
		kind = r.req.Kind
	}
	v, err := quantity.ParseAs(kind, s)
	if err == nil {
		if in.Kind == calc.AnyKind {
			if err := r.sameKind(v.Kind(), field, fmt.Sprintf("%q", s)); err != nil {
				return 0, err
			}
		}
		return v.Float(), nil
	}
	if errors.Is(err, quantity.ErrNotExact) || errors.Is(err, quantity.ErrRange) {
		if x, err := quantity.Approximate(kind, s); err == nil && kind == quantity.Length {
			return x, nil
		}
	}
	return 0, bad(field, shorten(fmt.Sprintf("%q", s)), in.Wanted()+unitsThatFit(kind, err))
}

// unitsThatFit names the units of a kind where the unit was the fault.
func unitsThatFit(kind quantity.Kind, err error) string {
	if !errors.Is(err, quantity.ErrUnit) || kind == "" || kind == quantity.Number {
		return ""
	}
	return "; units that fit: " + quantity.UnitsFor(kind)
}

// list reads a list of quantities or an object with a list for its value.
func (r *reader) list(in calc.Input, n node, field string) ([]calc.Num, error) {
	var b *bulk
	if o, ok := n.(object); ok {
		bb, err := r.bulk(in, o, field)
		if err != nil {
			return nil, err
		}
		b, n = &bb, bb.value
	}
	items, ok := n.([]node)
	if ok {
		return r.items(in, b, items, field)
	}
	// A quantity alone is a list of one.
	var q calc.Num
	var err error
	switch n.(type) {
	case string, json.Number:
		if b != nil {
			q, err = r.bulkNum(in, *b, n, field, -1)
		} else {
			q, err = r.num(in, n, field)
		}
		return []calc.Num{q}, err
	}
	return nil, bad(field, describe(n), in.Wanted())
}

func (r *reader) items(in calc.Input, b *bulk, items []node, field string) ([]calc.Num, error) {
	out := make([]calc.Num, 0, len(items))
	if b != nil {
		if err := sameLength(b.o, len(items), field); err != nil {
			return nil, err
		}
	}
	for i, n := range items {
		at := fmt.Sprintf("%s[%d]", field, i)
		var q calc.Num
		var err error
		if b != nil {
			q, err = r.bulkNum(in, *b, n, at, i)
		} else {
			q, err = r.num(in, n, at)
		}
		if err != nil {
			return nil, err
		}
		out = append(out, q)
	}
	return out, nil
}

func (r *reader) grid(in calc.Input, n node, field string) ([][]calc.Num, error) {
	var b *bulk
	if o, ok := n.(object); ok {
		bb, err := r.bulk(in, o, field)
		if err != nil {
			return nil, err
		}
		b, n = &bb, bb.value
	}
	return r.rows(in, b, n, field)
}

func (r *reader) rows(in calc.Input, b *bulk, n node, field string) ([][]calc.Num, error) {
	rows, ok := n.([]node)
	if !ok {
		return nil, bad(field, describe(n), in.Wanted())
	}
	var out [][]calc.Num
	for i, row := range rows {
		at := fmt.Sprintf("%s[%d]", field, i)
		items, ok := row.([]node)
		var qs []calc.Num
		var err error
		switch {
		case ok:
			qs, err = r.items(in, b, items, at)
		case b == nil:
			qs, err = r.list(calc.Input{Shape: calc.List, Kind: in.Kind, Positive: in.Positive}, row, at)
		default:
			err = bad(at, describe(row), "a list of numbers")
		}
		if err != nil {
			return nil, err
		}
		out = append(out, qs)
	}
	return out, nil
}

func (r *reader) cube(in calc.Input, n node, field string) (calc.Val, error) {
	var b *bulk
	if o, ok := n.(object); ok {
		bb, err := r.bulk(in, o, field)
		if err != nil {
			return calc.Val{}, err
		}
		b, n = &bb, bb.value
	}
	pages, ok := n.([]node)
	if !ok {
		return calc.Val{}, bad(field, describe(n), in.Wanted())
	}
	var v calc.Val
	for i, page := range pages {
		g, err := r.rows(in, b, page, fmt.Sprintf("%s[%d]", field, i))
		if err != nil {
			return v, err
		}
		v.Cube = append(v.Cube, g)
	}
	return v, nil
}

// bulk reads the parts of an object that hold for all of its numbers.
func (r *reader) bulk(in calc.Input, o object, field string) (bulk, error) {
	b := bulk{o: o}
	for _, name := range o.names {
		switch name {
		case "value", "unit", "u", "U", "k", "dof", "shared":
		default:
			return b, bad(field+"."+name, "an unknown field", "value, unit, u, U and k, dof, shared")
		}
	}
	var ok bool
	if b.value, ok = o.fields["value"]; !ok {
		return b, bad(field+".value", "nothing", in.Wanted())
	}
	code, given := o.fields["unit"]
	if !given {
		switch {
		case in.Kind == quantity.Number || textValue(b.value):
			code = ""
		case in.Kind == calc.AnyKind:
			if r.req.Kind != "" && r.req.Kind != quantity.Number {
				return b, bad(field+".unit", "nothing", fmt.Sprintf("a unit of %s", r.req.Kind))
			}
			code = ""
		default:
			return b, bad(field+".unit", "nothing", "the UCUM code of a unit of "+string(in.Kind)+": "+quantity.UnitsFor(in.Kind))
		}
	}
	s, isText := code.(string)
	if !isText {
		return b, bad(field+".unit", describe(code), "a unit's UCUM code")
	}
	return r.units(in, b, s, given, field)
}

func textValue(n node) bool { _, ok := n.(string); return ok }

func (r *reader) units(in calc.Input, b bulk, code string, given bool, field string) (bulk, error) {
	kind := in.Kind
	if kind == calc.AnyKind {
		u, err := quantity.UnitOf(code)
		if err != nil && code != "1" {
			return b, bad(field+".unit", fmt.Sprintf("%q", code), "a unit known here")
		}
		kind = u.Kind
		if !textValue(b.value) {
			if err := r.sameKind(kind, field+".unit", fmt.Sprintf("%q", code)); err != nil {
				return b, err
			}
		}
	}
	if textValue(b.value) {
		if given {
			return b, bad(field+".unit", fmt.Sprintf("%q beside a text", code), "the unit in the text or beside a number, not both")
		}
		b.unit = quantity.Base(kind)
		return b, nil
	}
	u, err := quantity.UnitFor(kind, code)
	if err != nil {
		return b, bad(field+".unit", fmt.Sprintf("%q", code), "a unit of "+string(kind)+", as in "+calc.Example(kind)+unitsThatFit(kind, err))
	}
	b.unit = u
	return b, nil
}

// bulkNum reads one number of an object; i is its place in a list, −1 for a scalar.
func (r *reader) bulkNum(in calc.Input, b bulk, n node, field string, i int) (calc.Num, error) {
	var q calc.Num
	switch n := n.(type) {
	case string:
		if i >= 0 {
			return q, bad(field, describe(n), "a number in the unit of the list")
		}
		x, err := r.text(in, n, field)
		if err != nil {
			return q, err
		}
		q.X = x
	case json.Number:
		x, err := plainNumber(n, field)
		if err != nil {
			return q, err
		}
		q.X = b.unit.ToBase(x)
	default:
		return q, bad(field, describe(n), calc.Input{Kind: in.Kind, Positive: in.Positive}.Wanted())
	}
	c, ok, err := r.component(in, b, q.X, field, i)
	if ok {
		q.Us = []calc.Component{c}
	}
	return q, err
}
