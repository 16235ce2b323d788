package markup

import (
	"fmt"
	"reflect"
)

// builtins are the functions that every template may call, as text/template has them; "and" and "or" besides, which read
// no further than they must.
func builtins() Funcs {
	return Funcs{
		"not":   func(v reflect.Value) bool { return !truth(v) },
		"len":   length,
		"index": index,
		"print": fmt.Sprint,
		"eq": func(a reflect.Value, others ...reflect.Value) (bool, error) {
			for _, b := range others {
				if same, err := equal(a, b); same || err != nil {
					return same, err
				}
			}
			return false, nil
		},
		"ne": func(a, b reflect.Value) (bool, error) { same, err := equal(a, b); return !same, err },
		"lt": less,
		"gt": func(a, b reflect.Value) (bool, error) { return less(b, a) },
		"le": func(a, b reflect.Value) (bool, error) { more, err := less(b, a); return !more, err },
		"ge": func(a, b reflect.Value) (bool, error) { fewer, err := less(a, b); return !fewer, err },
	}
}

func length(v reflect.Value) (int, error) {
	switch v = indirect(v); v.Kind() {
	case reflect.String, reflect.Slice, reflect.Array, reflect.Map:
		return v.Len(), nil
	case reflect.Invalid:
		return 0, fmt.Errorf("the length of nothing")
	}
	return 0, fmt.Errorf("a %s has no length", v.Type())
}

// index gives an element of a slice or an entry of a map, and so on within that.
func index(v reflect.Value, keys ...reflect.Value) (reflect.Value, error) {
	for _, k := range keys {
		v, k = indirect(v), indirect(k)
		switch v.Kind() {
		case reflect.Slice, reflect.Array, reflect.String:
			if !k.CanInt() || k.Int() < 0 || k.Int() >= int64(v.Len()) {
				return v, fmt.Errorf("%v is no place in a %s of %d", k, v.Type(), v.Len())
			}
			v = v.Index(int(k.Int()))
		case reflect.Map:
			if !k.IsValid() || !k.Type().ConvertibleTo(v.Type().Key()) {
				return v, fmt.Errorf("%v is no key of %s", k, v.Type())
			}
			at := v.MapIndex(k.Convert(v.Type().Key()))
			if !at.IsValid() {
				at = reflect.Zero(v.Type().Elem())
			}
			v = at
		case reflect.Invalid:
			return v, fmt.Errorf("%v is asked of nothing", k)
		default:
			return v, fmt.Errorf("%s has no elements", v.Type())
		}
	}
	return v, nil
}

func equal(a, b reflect.Value) (bool, error) {
	a, b = inside(a), inside(b)
	switch {
	case !a.IsValid() || !b.IsValid():
		return a.IsValid() == b.IsValid(), nil
	case a.CanInt() && b.CanInt():
		return a.Int() == b.Int(), nil
	case a.CanInt() && b.CanUint():
		return a.Int() >= 0 && uint64(a.Int()) == b.Uint(), nil
	case a.CanUint() && b.CanInt():
		return b.Int() >= 0 && uint64(b.Int()) == a.Uint(), nil
	case a.CanUint() && b.CanUint():
		return a.Uint() == b.Uint(), nil
	case a.CanFloat() && b.CanFloat():
		return a.Float() == b.Float(), nil
	case a.Kind() == reflect.String && b.Kind() == reflect.String:
		return a.String() == b.String(), nil
	case a.Type() == b.Type() && a.Comparable():
		return a.Equal(b), nil
	}
	return false, fmt.Errorf("a %s and a %s cannot be compared", a.Type(), b.Type())
}

func inside(v reflect.Value) reflect.Value {
	if v.Kind() == reflect.Interface {
		return v.Elem()
	}
	return v
}

func less(a, b reflect.Value) (bool, error) {
	a, b = inside(a), inside(b)
	switch {
	case !a.IsValid() || !b.IsValid():
		return false, fmt.Errorf("nothing has no size")
	case a.CanInt() && b.CanInt():
		return a.Int() < b.Int(), nil
	case a.CanInt() && b.CanUint():
		return a.Int() < 0 || uint64(a.Int()) < b.Uint(), nil
	case a.CanUint() && b.CanInt():
		return b.Int() >= 0 && a.Uint() < uint64(b.Int()), nil
	case a.CanUint() && b.CanUint():
		return a.Uint() < b.Uint(), nil
	case a.CanFloat() && b.CanFloat():
		return a.Float() < b.Float(), nil
	case a.Kind() == reflect.String && b.Kind() == reflect.String:
		return a.String() < b.String(), nil
	}
	return false, fmt.Errorf("a %s and a %s have no order", a.Type(), b.Type())
}
