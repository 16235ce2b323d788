package markup

import (
	"fmt"
	"io"
	"reflect"
	"text/template/parse"
)

// run is one writing of a template.
type run struct {
	set   *Set
	w     io.Writer
	tree  *parse.Tree
	vars  []variable
	depth int
}

type variable struct {
	name string
	v    reflect.Value
}

// deepest is how far templates may call each other.
const deepest = 1000

func (r *run) fault(n parse.Node, format string, args ...any) error {
	at, _ := r.tree.ErrorContext(n)
	return fmt.Errorf("template: %s: %w", at, fmt.Errorf(format, args...))
}

// list writes a list of nodes; placed has refused every other kind.
func (r *run) list(dot reflect.Value, l *parse.ListNode) error {
	if l == nil {
		return nil
	}
	for _, n := range l.Nodes {
		var err error
		switch n := n.(type) {
		case *parse.TextNode:
			_, err = r.w.Write(n.Text)
		case *parse.ActionNode:
			err = r.action(dot, n)
		case *parse.IfNode:
			err = r.branch(dot, &n.BranchNode, false)
		case *parse.WithNode:
			err = r.branch(dot, &n.BranchNode, true)
		case *parse.RangeNode:
			err = r.loop(dot, n)
		case *parse.TemplateNode:
			err = r.call(dot, n)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *run) action(dot reflect.Value, n *parse.ActionNode) error {
	v, err := r.pipe(dot, n.Pipe)
	if err != nil || len(n.Pipe.Decl) > 0 {
		return err
	}
	s, err := r.set.escapes[n](v)
	if err != nil {
		return r.fault(n, "%w", err)
	}
	_, err = io.WriteString(r.w, s)
	return err
}

// branch writes an if or a with; a with's dot is what it asked for.
func (r *run) branch(dot reflect.Value, n *parse.BranchNode, with bool) error {
	defer r.forget(len(r.vars))
	v, err := r.pipe(dot, n.Pipe)
	switch {
	case err != nil:
		return err
	case !truth(v):
		return r.list(dot, n.ElseList)
	case with:
		return r.list(v, n.List)
	}
	return r.list(dot, n.List)
}

func (r *run) forget(n int) { r.vars = r.vars[:n] }

// loop writes a range over a slice, an array or a map in the order of its keys.
func (r *run) loop(dot reflect.Value, n *parse.RangeNode) error {
	defer r.forget(len(r.vars))
	v, err := r.pipe(dot, n.Pipe)
	if err != nil {
		return err
	}
	mark := len(r.vars)
	count, err := r.turns(n, indirect(v), func(i, each reflect.Value) error {
		defer r.forget(mark)
		r.declare(n.Pipe.Decl, i, each)
		return r.list(each, n.List)
	})
	if err == nil && count == 0 {
		err = r.list(dot, n.ElseList)
	}
	return err
}

// declare sets a loop's variables: its last is the element, of two the first is the index or key.
func (r *run) declare(names []*parse.VariableNode, i, each reflect.Value) {
	if len(names) > 1 {
		r.declared(names[0].Ident[0], i)
		r.declared(names[1].Ident[0], each)
	} else if len(names) == 1 {
		r.declared(names[0].Ident[0], each)
	}
}

func (r *run) declared(name string, v reflect.Value) { r.vars = append(r.vars, variable{name, v}) }

// turns calls turn with each of a value's elements and gives how many there are.
func (r *run) turns(n parse.Node, v reflect.Value, turn func(i, each reflect.Value) error) (int, error) {
	switch v.Kind() {
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if err := turn(reflect.ValueOf(i), v.Index(i)); err != nil {
				return v.Len(), err
			}
		}
		return v.Len(), nil
	case reflect.Map:
		for _, k := range sortedKeys(v) {
			if err := turn(k, v.MapIndex(k)); err != nil {
				return v.Len(), err
			}
		}
		return v.Len(), nil
	case reflect.Invalid:
		return 0, nil
	}
	return 0, r.fault(n, "a %s has no elements", v.Type())
}

func (r *run) call(dot reflect.Value, n *parse.TemplateNode) error {
	tree, ok := r.set.trees[n.Name]
	if !ok {
		return r.fault(n, "template %q is not defined", n.Name)
	}
	if r.depth == deepest {
		return r.fault(n, "templates call each other more than %d deep", deepest)
	}
	var v reflect.Value
	if n.Pipe != nil {
		var err error
		if v, err = r.pipe(dot, n.Pipe); err != nil {
			return err
		}
	}
	in := run{set: r.set, w: r.w, tree: tree, vars: []variable{{"$", v}}, depth: r.depth + 1}
	return in.list(v, tree.Root)
}
