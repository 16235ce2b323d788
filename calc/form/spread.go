package form

import (
	"fmt"
	"math"

	"thoud/calc"
	"thoud/calc/quantity"
)

// component reads u, or U and k, and dof and shared.
func (r *reader) component(in calc.Input, b bulk, x float64, field string, i int) (calc.Component, bool, error) {
	var c calc.Component
	small, hasSmall := pickAt(b.o, "u", i)
	big, hasBig := pickAt(b.o, "U", i)
	kn, hasK := b.o.fields["k"]
	switch {
	case hasSmall && (hasBig || hasK):
		return c, false, bad(field, "u beside U or k", "either u, or U and k")
	case hasBig != hasK:
		return c, false, bad(field, "only one of U and k", "U together with its coverage factor k")
	case !hasSmall && !hasBig:
		for _, name := range []string{"dof", "shared"} {
			if _, ok := b.o.fields[name]; ok {
				return c, false, bad(field+"."+name, name+" alone", "it belongs to a u, or U and k")
			}
		}
		return c, false, nil
	}
	n, name, k := small, "u", 1.0
	if hasBig {
		n, name = big, "U"
		var err error
		if k, err = plainNumber(kn, field+".k"); err != nil {
			return c, false, err
		}
		if k <= 0 {
			return c, false, bad(field+".k", describe(kn), "a coverage factor, more than zero")
		}
	}
	u, err := r.spread(in, b, n, x, field+"."+name)
	if err != nil {
		return c, false, err
	}
	c.U = u / k
	if d, ok := b.o.fields["dof"]; ok {
		if c.Dof, err = plainNumber(d, field+".dof"); err != nil {
			return c, false, err
		}
		if c.Dof <= 0 {
			return c, false, bad(field+".dof", describe(d), "degrees of freedom, more than zero")
		}
	}
	if s, ok := b.o.fields["shared"]; ok {
		if c.Shared, ok = s.(string); !ok || c.Shared == "" {
			return c, false, bad(field+".shared", describe(s), "a name for the common error")
		}
	}
	return c, true, nil
}

// spread reads an uncertainty: a number in the unit of the value, or a text with its own unit.
func (r *reader) spread(in calc.Input, b bulk, n node, x float64, field string) (float64, error) {
	kind := b.unit.Kind
	if in.Kind != calc.AnyKind {
		kind = in.Kind
	} else if r.req.Kind != "" {
		kind = r.req.Kind
	}
	if s, ok := n.(string); ok {
		if kind == quantity.Temperature {
			kind = quantity.Difference
		}
		v, err := quantity.ParseAs(kind, s)
		y := v.Float()
		if err != nil {
			if y, err = quantity.Approximate(kind, s); err != nil || kind != quantity.Length {
				return 0, bad(field, describe(n), "an uncertainty in a unit of "+string(kind))
			}
		}
		if y < 0 {
			return 0, bad(field, describe(n), "an uncertainty, zero or more")
		}
		if v.Unit.Code == "tpi" {
			return tpiSpread(v.Unit, float64(v.N)/math.Pow10(v.Places), x), nil
		}
		return y, nil
	}
	if textValue(b.value) && kind != quantity.Number {
		return 0, bad(field, describe(n), "an uncertainty with its unit, as the value")
	}
	y, err := plainNumber(n, field)
	if err != nil {
		return 0, err
	}
	if y < 0 {
		return 0, bad(field, describe(n), "an uncertainty, zero or more")
	}
	if b.unit.Code == "tpi" {
		return tpiSpread(b.unit, y, x), nil
	}
	return y * b.unit.Size, nil
}

// tpiSpread carries an uncertainty in threads per inch to the pitch x it belongs to: dp = p²/25.4 · dn.
func tpiSpread(u quantity.Unit, dn, x float64) float64 { return x * x / u.Size * dn }

// pickAt gives a field's value for place i: the field itself, or its i-th entry where it is a list.
func pickAt(o object, name string, i int) (node, bool) {
	n, ok := o.fields[name]
	if l, isList := n.([]node); isList && i >= 0 && i < len(l) {
		return l[i], true
	}
	return n, ok
}

func sameLength(o object, n int, field string) error {
	for _, name := range []string{"u", "U"} {
		if l, ok := o.fields[name].([]node); ok && len(l) != n {
			return bad(field+"."+name, fmt.Sprintf("a list of %d", len(l)), fmt.Sprintf("one, or a list of %d as the values", n))
		}
	}
	return nil
}
