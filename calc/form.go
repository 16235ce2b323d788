package calc

import (
	"encoding/json"
	"fmt"

	"thoud/calc/quantity"
)

// ReadForm reads the JSON form of a request for a method: an object of its inputs by name and, beside them, any of
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
func ReadForm(m Method, b []byte) (Request, error) {
	req := Request{Method: m.Name, Inputs: map[string]Val{}}
	n, err := parseJSON(b)
	if err != nil {
		return req, err
	}
	top, ok := n.(object)
	if !ok {
		return req, &InputError{"input", describe(n), "one JSON object with " + inputNames(m.Inputs)}
	}
	r := reader{m: m, req: &req}
	for _, name := range top.names {
		in, isInput := findInput(m.Inputs, name)
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
		if _, isInput := findInput(m.Inputs, "limits"); !isInput {
			if err := r.limits(n); err != nil {
				return req, err
			}
		}
	}
	return req, checkRequest(m, req)
}

type reader struct {
	m   Method
	req *Request
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
		q, err := r.num(Input{Kind: quantity.Length}, n, name)
		r.req.Digits = q.X
		return err
	case "gauge_only":
		b, ok := n.(bool)
		if !ok {
			return &InputError{name, describe(n), "true or false"}
		}
		r.req.GaugeOnly = b
		return nil
	case "words":
		return r.words(n)
	}
	return &InputError{name, "an unknown field", "one of " + inputNames(r.m.Inputs) + "; beside them limits, guard, level, digits, words, gauge_only"}
}

func (r *reader) words(n node) error {
	o, ok := n.(object)
	if !ok {
		return &InputError{"words", describe(n), `an object of texts, as {"away": "towards the cover"}`}
	}
	r.req.Words = map[string]string{}
	for _, name := range o.names {
		s, ok := o.fields[name].(string)
		if !ok {
			return &InputError{"words." + name, describe(o.fields[name]), "a text"}
		}
		r.req.Words[name] = s
	}
	return nil
}

func (r *reader) limits(n node) error {
	o, ok := n.(object)
	if !ok {
		return &InputError{"limits", describe(n), `an object, as {"figure": {"lower": "0.006 in", "upper": "0.010 in"}}`}
	}
	r.req.Limits = map[string]Limit{}
	for _, name := range o.names {
		var fig *Figure
		for i := range r.m.Figures {
			if r.m.Figures[i].Name == name && !r.m.Figures[i].Text && !r.m.Figures[i].Flag {
				fig = &r.m.Figures[i]
			}
		}
		field := "limits." + name
		if fig == nil {
			return &InputError{field, "a limit", "one of the figures in numbers: " + numericFigures(r.m)}
		}
		l, err := r.limit(*fig, o.fields[name], field)
		if err != nil {
			return err
		}
		r.req.Limits[name] = l
	}
	return nil
}

func (r *reader) limit(f Figure, n node, field string) (Limit, error) {
	var l Limit
	o, ok := n.(object)
	if !ok {
		return l, &InputError{field, describe(n), `an object with lower, upper or both`}
	}
	for _, name := range o.names {
		at := field + "." + name
		switch name {
		case "lower", "upper":
			q, err := r.num(Input{Kind: f.Kind}, o.fields[name], at)
			if err != nil {
				return l, err
			}
			if len(q.Us) > 0 {
				return l, &InputError{at, "a limit with an uncertainty", "a limit, which has none"}
			}
			if name == "lower" {
				l.Lower = &q.X
			} else {
				l.Upper = &q.X
			}
		case "source":
			s, ok := o.fields[name].(string)
			if !ok {
				return l, &InputError{at, describe(o.fields[name]), "a text"}
			}
			l.Source = s
		default:
			return l, &InputError{at, "an unknown field", "lower, upper or source"}
		}
	}
	return l, nil
}

func (r *reader) val(in Input, n node, field string) (Val, error) {
	wrong := func() (Val, error) { return Val{}, &InputError{field, describe(n), in.Wanted()} }
	switch in.Shape {
	case Scalar:
		q, err := r.num(in, n, field)
		return Val{Num: &q}, err
	case List:
		qs, err := r.list(in, n, field)
		return Val{List: qs}, err
	case Grid:
		g, err := r.grid(in, n, field)
		return Val{Grid: g}, err
	case Cube:
		return r.cube(in, n, field)
	case Text:
		if s, ok := n.(string); ok {
			return Val{Text: s}, nil
		}
	case TextList:
		if l, ok := n.([]node); ok {
			return r.texts(in, l, field)
		}
	case Flag:
		if b, ok := n.(bool); ok {
			return Val{Flag: &b}, nil
		}
	case Record:
		if o, ok := n.(object); ok {
			rec, err := r.record(in.Fields, o, field)
			return Val{Rec: rec}, err
		}
	case Records:
		if l, ok := n.([]node); ok {
			return r.records(in, l, field)
		}
	}
	return wrong()
}

func (r *reader) texts(in Input, l []node, field string) (Val, error) {
	var v Val
	for i, n := range l {
		s, ok := n.(string)
		if !ok {
			return v, &InputError{fmt.Sprintf("%s[%d]", field, i), describe(n), "a text"}
		}
		v.Texts = append(v.Texts, s)
	}
	return v, nil
}

func (r *reader) record(fields []Input, o object, field string) (map[string]Val, error) {
	rec := map[string]Val{}
	for _, name := range o.names {
		in, ok := findInput(fields, name)
		if !ok {
			return nil, &InputError{field + "." + name, "an unknown field", "one of " + inputNames(fields)}
		}
		v, err := r.val(in, o.fields[name], field+"."+name)
		if err != nil {
			return nil, err
		}
		rec[name] = v
	}
	return rec, nil
}

func (r *reader) records(in Input, l []node, field string) (Val, error) {
	var v Val
	for i, n := range l {
		at := fmt.Sprintf("%s[%d]", field, i)
		o, ok := n.(object)
		if !ok {
			return v, &InputError{at, describe(n), "an object with " + fieldList(in.Fields)}
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
		return 0, &InputError{field, describe(n), "a number"}
	}
	f, err := x.Float64()
	if err != nil || !finite(f) {
		return 0, &InputError{field, describe(n), "a finite number"}
	}
	return f, nil
}
