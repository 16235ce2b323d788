package calc

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// InputError is a malformed input: the caller's fault, and so no answer to give.
type InputError struct {
	Field string // path of the field: "springs[1].wire"
	Value string // as given; "nothing" where it is missing
	Want  string // what was expected
}

// Error says it in one sentence.
func (e *InputError) Error() string {
	return fmt.Sprintf("%s: got %s, want %s", e.Field, e.Value, e.Want)
}

// Need is the error for an input that is missing although the declaration calls it optional.
func Need(field, want string) error {
	return &InputError{Field: field, Value: "nothing", Want: want}
}

// Check holds a request against the method's declaration; the fault is an *InputError.
func (m Method) Check(req Request) error {
	if err := checkSize(m.Inputs, req.Inputs); err != nil {
		return err
	}
	if err := checkVals(m.Inputs, req.Inputs, ""); err != nil {
		return err
	}
	if !(req.Level == 0 || req.Level > 0 && req.Level < 1) {
		return &InputError{"level", fmt.Sprint(req.Level), "a coverage probability between 0 and 1, as 0.95"}
	}
	if !(req.Guard >= 0) || math.IsInf(req.Guard, 0) {
		return &InputError{"guard", fmt.Sprint(req.Guard), "a multiple of U, 0 or more"}
	}
	if !(req.Digits >= 0) || math.IsInf(req.Digits, 0) {
		return &InputError{"digits", fmt.Sprint(req.Digits), "the resolution of the readings in mm"}
	}
	for _, name := range Sorted(req.Limits) { // sorted, so that of two faults the same is always told
		if err := checkLimit(m, name, req.Limits[name]); err != nil {
			return err
		}
	}
	return nil
}

func checkLimit(m Method, name string, l Limit) error {
	field := "limits." + name
	if _, err := m.Limited(name); err != nil {
		return err
	}
	if l.Lower == nil && l.Upper == nil {
		return &InputError{field, "neither side", "lower, upper or both"}
	}
	if l.Lower != nil && !finite(*l.Lower) {
		return &InputError{field + ".lower", fmt.Sprint(*l.Lower), "a finite number"}
	}
	if l.Upper != nil && !finite(*l.Upper) {
		return &InputError{field + ".upper", fmt.Sprint(*l.Upper), "a finite number"}
	}
	if l.Lower != nil && l.Upper != nil && *l.Lower > *l.Upper {
		return &InputError{field, fmt.Sprintf("lower %v over upper %v", *l.Lower, *l.Upper), "the lower limit below the upper"}
	}
	return nil
}

func checkVals(inputs []Input, vals map[string]Val, path string) error {
	any := len(inputs) == 1 && inputs[0].Name == AnyName
	for _, name := range Sorted(vals) {
		in, ok := FindInput(inputs, name)
		if !ok {
			return &InputError{path + name, "an unknown field", "one of " + InputNames(inputs)}
		}
		if err := checkVal(in, vals[name], path+name); err != nil {
			return err
		}
	}
	if any {
		if len(vals) == 0 {
			return &InputError{strings.TrimSuffix(path, "."), "nothing in it", "at least one named list"}
		}
		return nil
	}
	for _, in := range inputs {
		if _, ok := vals[in.Name]; !ok && !in.Optional {
			return &InputError{path + in.Name, "nothing", in.Wanted()}
		}
	}
	return nil
}

// FindInput finds an input by its name; AnyName stands for every name.
func FindInput(inputs []Input, name string) (Input, bool) {
	for _, in := range inputs {
		if in.Name == name || in.Name == AnyName {
			return in, true
		}
	}
	return Input{}, false
}

func checkVal(in Input, v Val, field string) error {
	empty := &InputError{field, "an empty list", in.Wanted()}
	switch in.Shape {
	case List:
		if len(v.List) == 0 {
			return empty
		}
		return checkNums(in, v.List, field)
	case Grid:
		return checkGrid(in, v.Grid, field)
	case Cube:
		if len(v.Cube) == 0 {
			return empty
		}
		return eachOf(v.Cube, field, func(g [][]Num, at string) error { return checkGrid(in, g, at) })
	case TextList:
		if len(v.Texts) == 0 {
			return empty
		}
		return eachOf(v.Texts, field, func(s, at string) error { return checkWord(in, s, at) })
	case Records:
		if len(v.Recs) == 0 {
			return empty
		}
		return eachOf(v.Recs, field, func(r map[string]Val, at string) error { return checkVals(in.Fields, r, at+".") })
	}
	return checkOne(in, v, field)
}

// checkOne checks an input that is no list.
func checkOne(in Input, v Val, field string) error {
	switch {
	case in.Shape == Scalar && v.Num != nil:
		return checkNum(in, *v.Num, field)
	case in.Shape == Text:
		return checkWord(in, v.Text, field)
	case in.Shape == Flag && v.Flag != nil:
		return nil
	case in.Shape == Record && v.Rec != nil:
		return checkVals(in.Fields, v.Rec, field+".")
	}
	return &InputError{field, "another shape", in.Wanted()}
}

// eachOf checks the members of a list, each by its own name.
func eachOf[T any](list []T, field string, check func(x T, at string) error) error {
	for i, x := range list {
		if err := check(x, fmt.Sprintf("%s[%d]", field, i)); err != nil {
			return err
		}
	}
	return nil
}

func checkWord(in Input, s, field string) error {
	if s == "" {
		return &InputError{field, "nothing", in.Wanted()}
	}
	if len(in.Enum) == 0 {
		return nil
	}
	for _, e := range in.Enum {
		if s == e {
			return nil
		}
	}
	return &InputError{field, fmt.Sprintf("%q", s), in.Wanted()}
}

func checkGrid(in Input, g [][]Num, field string) error {
	if len(g) == 0 {
		return &InputError{field, "an empty list", in.Wanted()}
	}
	for i, row := range g {
		at := fmt.Sprintf("%s[%d]", field, i)
		if len(row) == 0 {
			return &InputError{at, "an empty list", in.Wanted()}
		}
		if err := checkNums(in, row, at); err != nil {
			return err
		}
	}
	return nil
}

func checkNums(in Input, ns []Num, field string) error {
	for i, n := range ns {
		if checkNum(in, n, field) != nil { // its name is made for a fault alone
			return checkNum(in, n, fmt.Sprintf("%s[%d]", field, i))
		}
	}
	return nil
}

func checkNum(in Input, n Num, field string) error {
	if !finite(n.X) {
		return &InputError{field, fmt.Sprint(n.X), "a finite number"}
	}
	if in.Positive && n.X <= 0 {
		return &InputError{field, fmt.Sprint(n.X), "more than zero"}
	}
	for _, c := range n.Us {
		if !(c.U >= 0 || c.Shared != "") || !finite(c.U) {
			return &InputError{field + ".u", fmt.Sprint(c.U), "a standard uncertainty, zero or more"}
		}
		if !(c.Dof >= 0) || !finite(c.Dof) {
			return &InputError{field + ".dof", fmt.Sprint(c.Dof), "degrees of freedom, more than zero"}
		}
	}
	return nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// InputNames lists the names of inputs for a message.
func InputNames(inputs []Input) string {
	var names []string
	for _, in := range inputs {
		names = append(names, in.Name)
	}
	return strings.Join(names, ", ")
}

// Limited finds a figure that can have limits; the fault is an *InputError.
func (m Method) Limited(name string) (Figure, error) {
	var names []string
	for _, f := range m.Figures {
		if f.Text || f.Flag {
			continue
		}
		if f.Name == name {
			return f, nil
		}
		names = append(names, f.Name)
	}
	return Figure{}, &InputError{"limits." + name, "a limit", "one of the figures in numbers: " + strings.Join(names, ", ")}
}

// compute calls the method once; a panic inside it becomes a refusal, and so does a figure that is not finite.
func compute(m *Method, vals map[string]Val) (out *Out, err error) {
	return computeInto(&Out{method: m, nums: map[string]float64{}}, vals)
}

func computeInto(o *Out, vals map[string]Val) (out *Out, err error) {
	m := o.method
	out = o
	defer func() {
		if p := recover(); p != nil {
			out, err = nil, &Refusal{What: m.Name, Why: fmt.Sprintf("the computation failed: %v", p), Do: "check the inputs; if they are right this is a fault of the method"}
		}
	}()
	if err := m.Compute(Args{m.Inputs, vals}, out); err != nil {
		return nil, err
	}
	return out, out.checkFinite()
}

func (o *Out) checkFinite() error {
	bad := func(name string, x float64) error {
		return Refuse(name, "check the inputs: they lie outside what the formula can answer", "comes out as %v", x)
	}
	for _, f := range o.method.Figures {
		if x, ok := o.nums[f.Name]; ok { // the usual case, without a slice
			if !finite(x) {
				return bad(f.Name, x)
			}
			continue
		}
		for _, x := range o.values(f.Name) {
			if !finite(x) {
				return bad(f.Name, x)
			}
		}
	}
	for _, a := range o.adjustments {
		if !finite(a.Amount) {
			return bad(a.What, a.Amount)
		}
	}
	return nil
}

// asRefusal gives the refusal that an error is; false for a malformed input, which is none.
func asRefusal(m *Method, err error) (*Refusal, bool) {
	var in *InputError
	if errors.As(err, &in) {
		return nil, false
	}
	var r *Refusal
	if errors.As(err, &r) {
		return r, true
	}
	return &Refusal{What: m.Name, Why: err.Error()}, true
}
