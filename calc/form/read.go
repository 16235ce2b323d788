// Package form is the JSON form of a computation: Read makes a calc.Request from one object of a method's inputs, Write
// puts a calc.Result into one object. It knows every way a builder writes a quantity and nothing of the arithmetic. What
// it does not understand it refuses with a *calc.InputError that names the field, the value and what was expected; a name
// given twice is refused too, because one of the two would silently win.
package form

import (
	"encoding/json"
	"fmt"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Read reads the JSON form of a request for a method: an object of its inputs by name and, beside them, any of
//
//	limits      {"figure": {"lower": quantity, "upper": quantity, "source": text}}
//	guard       guard band as a multiple of U        level    coverage probability
//	digits      resolution of the readings           words    {direction: words}
//	gauge_only  true where set-up repeatability is unknown
//
// An input of one of these names is meant where the method has one. A quantity is a text ("0.0375 in", "7/32 in"), for
// counts and ratios a plain number, or an object {"value", "unit"} with a UCUM code or a builder's, and with u, or U and
// k, and dof and shared if known; a list is a list of quantities or {"value": [..], "unit"}. Whatever it does not
// understand it refuses with an *InputError that names field, value and what was expected.
func Read(m calc.Method, b []byte) (calc.Request, error) {
	req := calc.Request{Method: m.Name, Inputs: map[string]calc.Val{}}
	n, err := parseJSON(b)
	if err != nil {
		return req, err
	}
	top, ok := n.(object)
	if !ok {
		return req, bad("input", describe(n), "one JSON object with "+calc.InputNames(m.Inputs))
	}
	r := reader{m: m, req: &req}
	for _, name := range top.names {
		in, isInput := calc.FindInput(m.Inputs, name)
		if isInput {
			v, err := r.val(in, top.fields[name], name)
			if err != nil {
				return req, err
			}
			req.Inputs[name] = v
			continue
		}
		if err := r.setting(name, top.fields[name]); err != nil {
			return req, err
		}
	}
	// Limits last: those on a figure of any kind need the kind of the inputs.
	if n, ok := top.fields["limits"]; ok {
		if _, isInput := calc.FindInput(m.Inputs, "limits"); !isInput {
			if err := r.limits(n); err != nil {
				return req, err
			}
		}
	}
	return req, m.Check(req)
}

type reader struct {
	m   calc.Method
	req *calc.Request
}

func (r *reader) setting(name string, n node) error {
	switch name {
	case "limits":
		return nil // read at the end
	case "guard", "level":
		x, err := plainNumber(n, name)
		if err != nil {
			return err
		}
		if name == "guard" {
			r.req.Guard = x
		} else {
			r.req.Level = x
		}
		return nil
	case "digits":
		q, err := r.num(calc.Input{Kind: quantity.Length}, n, name)
		r.req.Digits = q.X
		return err
	case "gauge_only":
		b, ok := n.(bool)
		if !ok {
			return bad(name, describe(n), "true or false")
		}
		r.req.GaugeOnly = b
		return nil
	case "words":
		return r.words(n)
	}
	return bad(name, "an unknown field", "one of "+calc.InputNames(r.m.Inputs)+"; beside them limits, guard, level, digits, words, gauge_only")
}

func (r *reader) words(n node) error {
	o, ok := n.(object)
	if !ok {
		return bad("words", describe(n), `an object of texts, as {"away": "towards the cover"}`)
	}
	r.req.Words = map[string]string{}
	for _, name := range o.names {
		s, ok := o.fields[name].(string)
		if !ok {
			return bad("words."+name, describe(o.fields[name]), "a text")
		}
		r.req.Words[name] = s
	}
	return nil
}

func (r *reader) limits(n node) error {
	o, ok := n.(object)
	if !ok {
		return bad("limits", describe(n), `an object, as {"figure": {"lower": "0.006 in", "upper": "0.010 in"}}`)
	}
	r.req.Limits = map[string]calc.Limit{}
	for _, name := range o.names {
		fig, err := r.m.Limited(name)
		if err != nil {
			return err
		}
		l, err := r.limit(fig, o.fields[name], "limits."+name)
		if err != nil {
			return err
		}
		r.req.Limits[name] = l
	}
	return nil
}

func (r *reader) limit(f calc.Figure, n node, field string) (calc.Limit, error) {
	var l calc.Limit
	o, ok := n.(object)
	if !ok {
		return l, bad(field, describe(n), `an object with lower, upper or both`)
	}
	for _, name := range o.names {
		at := field + "." + name
		switch name {
		case "lower", "upper":
			q, err := r.num(calc.Input{Kind: f.Kind}, o.fields[name], at)
			if err != nil {
				return l, err
			}
			if len(q.Us) > 0 {
				return l, bad(at, "a limit with an uncertainty", "a limit, which has none")
			}
			if name == "lower" {
				l.Lower = &q.X
			} else {
				l.Upper = &q.X
			}
		case "source":
			s, ok := o.fields[name].(string)
			if !ok {
				return l, bad(at, describe(o.fields[name]), "a text")
			}
			l.Source = s
		default:
			return l, bad(at, "an unknown field", "lower, upper or source")
		}
	}
	return l, nil
}

func (r *reader) val(in calc.Input, n node, field string) (calc.Val, error) {
	wrong := func() (calc.Val, error) { return calc.Val{}, bad(field, describe(n), in.Wanted()) }
	switch in.Shape {
	case calc.Scalar:
		q, err := r.num(in, n, field)
		return calc.Val{Num: &q}, err
	case calc.List:
		qs, err := r.list(in, n, field)
		return calc.Val{List: qs}, err
	case calc.Grid:
		g, err := r.grid(in, n, field)
		return calc.Val{Grid: g}, err
	case calc.Cube:
		return r.cube(in, n, field)
	case calc.Text:
		if s, ok := n.(string); ok {
			return calc.Val{Text: s}, nil
		}
	case calc.TextList:
		if l, ok := n.([]node); ok {
			return r.texts(in, l, field)
		}
	case calc.Flag:
		if b, ok := n.(bool); ok {
			return calc.Val{Flag: &b}, nil
		}
	case calc.Record:
		if o, ok := n.(object); ok {
			rec, err := r.record(in.Fields, o, field)
			return calc.Val{Rec: rec}, err
		}
	case calc.Records:
		if l, ok := n.([]node); ok {
			return r.records(in, l, field)
		}
	}
	return wrong()
}

func (r *reader) texts(in calc.Input, l []node, field string) (calc.Val, error) {
	var v calc.Val
	for i, n := range l {
		s, ok := n.(string)
		if !ok {
			return v, bad(fmt.Sprintf("%s[%d]", field, i), describe(n), "a text")
		}
		v.Texts = append(v.Texts, s)
	}
	return v, nil
}

func (r *reader) record(fields []calc.Input, o object, field string) (map[string]calc.Val, error) {
	rec := map[string]calc.Val{}
	for _, name := range o.names {
		in, ok := calc.FindInput(fields, name)
		if !ok {
			return nil, bad(field+"."+name, "an unknown field", "one of "+calc.InputNames(fields))
		}
		v, err := r.val(in, o.fields[name], field+"."+name)
		if err != nil {
			return nil, err
		}
		rec[name] = v
	}
	return rec, nil
}

func (r *reader) records(in calc.Input, l []node, field string) (calc.Val, error) {
	var v calc.Val
	for i, n := range l {
		at := fmt.Sprintf("%s[%d]", field, i)
		o, ok := n.(object)
		if !ok {
			return v, bad(at, describe(n), calc.Input{Shape: calc.Record, Fields: in.Fields}.Wanted())
		}
		rec, err := r.record(in.Fields, o, at)
		if err != nil {
			return v, err
		}
		v.Recs = append(v.Recs, rec)
	}
	return v, nil
}

func plainNumber(n node, field string) (float64, error) {
	x, ok := n.(json.Number)
	if !ok {
		return 0, bad(field, describe(n), "a number")
	}
	f, err := x.Float64()
	if err != nil {
		return 0, bad(field, describe(n), "a finite number")
	}
	return f, nil
}
