package markup

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"text/template/parse"
)

var (
	errorType    = reflect.TypeFor[error]()
	stringerType = reflect.TypeFor[fmt.Stringer]()
	anyType      = reflect.TypeFor[any]()
	valueType    = reflect.TypeFor[reflect.Value]()
)

// pipe gives the value of a pipeline and sets the variables it declares.
func (r *run) pipe(dot reflect.Value, n *parse.PipeNode) (reflect.Value, error) {
	var v reflect.Value
	for i, c := range n.Cmds {
		var last *reflect.Value
		if i > 0 {
			last = &v
		}
		next, err := r.command(dot, c, last)
		if err != nil {
			return v, err
		}
		v = next
		if v.Kind() == reflect.Interface && v.NumMethod() == 0 {
			v = v.Elem()
		}
	}
	for _, name := range n.Decl {
		if n.IsAssign {
			r.assign(name.Ident[0], v)
		} else {
			r.declared(name.Ident[0], v)
		}
	}
	return v, nil
}

func (r *run) assign(name string, v reflect.Value) {
	for i := len(r.vars) - 1; i >= 0; i-- {
		if r.vars[i].name == name {
			r.vars[i].v = v
			return
		}
	}
}

func (r *run) variable(name string) reflect.Value {
	for i := len(r.vars) - 1; i >= 0; i-- {
		if r.vars[i].name == name {
			return r.vars[i].v
		}
	}
	return reflect.Value{} // the parser lets no other name pass
}

// command gives the value of a function with its arguments, last of them what was piped into it, or of a single operand.
func (r *run) command(dot reflect.Value, c *parse.CommandNode, piped *reflect.Value) (reflect.Value, error) {
	if id, ok := c.Args[0].(*parse.IdentifierNode); ok {
		return r.function(dot, id, c.Args[1:], piped)
	}
	args, err := r.arguments(dot, c.Args[1:], piped)
	if err != nil {
		return reflect.Value{}, err
	}
	switch n := c.Args[0].(type) {
	case *parse.FieldNode:
		return r.fields(dot, n, n.Ident, args...)
	case *parse.VariableNode:
		return r.fields(r.variable(n.Ident[0]), n, n.Ident[1:], args...)
	}
	if len(args) > 0 {
		return reflect.Value{}, r.fault(c, "%s takes no arguments: only functions and methods do", c.Args[0])
	}
	if _, ok := c.Args[0].(*parse.NilNode); ok {
		return reflect.Value{}, r.fault(c, "nil says nothing by itself")
	}
	return r.operand(dot, c.Args[0])
}

// operand gives the value of one word of a command.
func (r *run) operand(dot reflect.Value, n parse.Node) (reflect.Value, error) {
	switch n := n.(type) {
	case *parse.DotNode:
		return dot, nil
	case *parse.FieldNode:
		return r.fields(dot, n, n.Ident)
	case *parse.VariableNode:
		return r.fields(r.variable(n.Ident[0]), n, n.Ident[1:])
	case *parse.ChainNode:
		v, err := r.operand(dot, n.Node)
		if err != nil {
			return v, err
		}
		return r.fields(v, n, n.Field)
	case *parse.PipeNode:
		return r.pipe(dot, n)
	case *parse.IdentifierNode:
		return r.function(dot, n, nil, nil)
	case *parse.StringNode:
		return reflect.ValueOf(n.Text), nil
	case *parse.BoolNode:
		return reflect.ValueOf(n.True), nil
	case *parse.NumberNode:
		if n.IsInt {
			return reflect.ValueOf(int(n.Int64)), nil
		}
		return reflect.ValueOf(n.Float64), nil
	case *parse.NilNode:
		return reflect.Value{}, nil
	}
	return reflect.Value{}, r.fault(n, "%s is not known here", n)
}

// fields follows names into a value. The last of them may be a method with arguments.
func (r *run) fields(v reflect.Value, n parse.Node, names []string, args ...reflect.Value) (reflect.Value, error) {
	if len(names) == 0 && len(args) > 0 {
		return v, r.fault(n, "%s takes no arguments: only functions and methods do", n)
	}
	for i, name := range names {
		var given []reflect.Value
		if i == len(names)-1 {
			given = args
		}
		var err error
		if v, err = r.field(v, n, name, given); err != nil {
			return v, err
		}
	}
	return v, nil
}

// field gives a field of a struct, an entry of a map, or what a method gives that the templates were given by name.
func (r *run) field(v reflect.Value, n parse.Node, name string, args []reflect.Value) (reflect.Value, error) {
	at := indirect(v)
	if at.IsValid() {
		if m, ok := r.set.funcs[at.Type().String()+"."+name]; ok {
			return r.called(n, name, m, append([]reflect.Value{v}, args...))
		}
	}
	if len(args) > 0 {
		return v, r.fault(n, "%s takes no arguments: only functions and methods do", n)
	}
	f, err := field(at, name)
	if err != nil {
		return f, r.fault(n, "%w", err)
	}
	return f, nil
}

// field gives a field of a struct or an entry of a map; nothing where the map has none.
func field(at reflect.Value, name string) (reflect.Value, error) {
	switch at.Kind() {
	case reflect.Struct:
		f, ok := at.Type().FieldByName(name)
		if !ok || !f.IsExported() {
			return at, fmt.Errorf("%[1]s has no field %[2]s; a method is given to the templates as a function called %[1]s.%[2]s", at.Type(), name)
		}
		return at.FieldByIndexErr(f.Index)
	case reflect.Map:
		if at.Type().Key().Kind() != reflect.String {
			return at, fmt.Errorf("the keys of %s are no texts", at.Type())
		}
		return at.MapIndex(reflect.ValueOf(name).Convert(at.Type().Key())), nil
	case reflect.Invalid:
		return at, fmt.Errorf("%s is asked of nothing", name)
	}
	return at, fmt.Errorf("%s has no %s", at.Type(), name)
}

// indirect follows pointers and interfaces; invalid where they lead to nothing.
func indirect(v reflect.Value) reflect.Value {
	for v.Kind() == reflect.Pointer || v.Kind() == reflect.Interface {
		v = v.Elem()
	}
	return v
}

// function calls one; "and" and "or" read no further than they must.
func (r *run) function(dot reflect.Value, n *parse.IdentifierNode, words []parse.Node, piped *reflect.Value) (reflect.Value, error) {
	if n.Ident == "and" || n.Ident == "or" {
		return r.andOr(dot, n.Ident == "or", words, piped)
	}
	args, err := r.arguments(dot, words, piped)
	if err != nil {
		return reflect.Value{}, err
	}
	return r.called(n, n.Ident, r.set.funcs[n.Ident], args)
}

// arguments gives the values of words, last what was piped.
func (r *run) arguments(dot reflect.Value, words []parse.Node, piped *reflect.Value) ([]reflect.Value, error) {
	var out []reflect.Value
	for _, w := range words {
		v, err := r.operand(dot, w)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	if piped != nil {
		out = append(out, *piped)
	}
	return out, nil
}

// called gives what a function gives with its arguments.
func (r *run) called(n parse.Node, name string, f reflect.Value, args []reflect.Value) (reflect.Value, error) {
	t := f.Type()
	if len(args) < t.NumIn() && !(t.IsVariadic() && len(args) == t.NumIn()-1) || len(args) > t.NumIn() && !t.IsVariadic() {
		return reflect.Value{}, r.fault(n, "%s takes %d arguments and was given %d", name, t.NumIn(), len(args))
	}
	for i := range args {
		var err error
		if args[i], err = as(args[i], parameter(t, i)); err != nil {
			return reflect.Value{}, r.fault(n, "%s, argument %d: %w", name, i+1, err)
		}
	}
	out := f.Call(args)
	if len(out) == 2 && !out[1].IsNil() {
		return reflect.Value{}, r.fault(n, "%s: %w", name, out[1].Interface().(error))
	}
	switch out[0].Type() {
	case anyType:
		return out[0].Elem(), nil
	case valueType:
		return out[0].Interface().(reflect.Value), nil
	}
	return out[0], nil
}

func parameter(t reflect.Type, i int) reflect.Type {
	if t.IsVariadic() && i >= t.NumIn()-1 {
		return t.In(t.NumIn() - 1).Elem()
	}
	return t.In(i)
}

func (r *run) andOr(dot reflect.Value, or bool, words []parse.Node, piped *reflect.Value) (reflect.Value, error) {
	var v reflect.Value
	for _, w := range words {
		var err error
		if v, err = r.operand(dot, w); err != nil || truth(v) == or {
			return v, err
		}
	}
	if piped != nil {
		v = *piped
	}
	return v, nil
}

// as makes a value one of a type, by what it points at, its address or, for whole numbers written in a template, its size.
func as(v reflect.Value, t reflect.Type) (reflect.Value, error) {
	if t == valueType {
		return reflect.ValueOf(v), nil
	}
	if !v.IsValid() {
		switch t.Kind() {
		case reflect.Pointer, reflect.Interface, reflect.Slice, reflect.Map, reflect.Func:
			return reflect.Zero(t), nil
		}
		return v, fmt.Errorf("nothing, where a %s is wanted", t)
	}
	if v.Kind() == reflect.Interface && !v.IsNil() && !v.Type().AssignableTo(t) {
		v = v.Elem()
	}
	switch {
	case v.Type().AssignableTo(t):
		return v, nil
	case v.Kind() == reflect.Pointer && v.Type().Elem().AssignableTo(t) && !v.IsNil():
		return v.Elem(), nil
	case reflect.PointerTo(v.Type()).AssignableTo(t) && v.CanAddr():
		return v.Addr(), nil
	case v.CanInt() && (t.Kind() >= reflect.Int && t.Kind() <= reflect.Float64) && v.Type() == reflect.TypeFor[int]():
		return v.Convert(t), nil
	}
	return v, fmt.Errorf("%s, where a %s is wanted", v.Type(), t)
}

// truth is false for nothing, zero, and what is empty.
func truth(v reflect.Value) bool {
	v2 := v
	if v2.Kind() == reflect.Interface {
		v2 = v2.Elem()
	}
	switch v2.Kind() {
	case reflect.Invalid:
		return false
	case reflect.Slice, reflect.Map, reflect.String, reflect.Array:
		return v2.Len() > 0
	case reflect.Struct:
		return true
	case reflect.Pointer, reflect.Func:
		return !v2.IsNil()
	}
	return !v2.IsZero()
}

// sortedKeys gives a map's keys in order: texts and numbers by their size.
func sortedKeys(m reflect.Value) []reflect.Value {
	keys := m.MapKeys()
	slices.SortFunc(keys, func(a, b reflect.Value) int {
		switch {
		case a.CanInt():
			return cmp.Compare(a.Int(), b.Int())
		case a.CanUint():
			return cmp.Compare(a.Uint(), b.Uint())
		case a.CanFloat():
			return cmp.Compare(a.Float(), b.Float())
		}
		return cmp.Compare(fmt.Sprint(a), fmt.Sprint(b))
	})
	return keys
}
