// Package markup writes pages of HTML from templates in the syntax of html/template, every value escaped for the place
// where it stands.
//
// html/template itself is not linked: it finds methods by their names while it runs, and a program that does so keeps
// every exported method of everything that is linked into it, wanted or not; that was an eighth of this one. Here a
// template reads fields, map entries and the functions it was given, never methods. The parser is the standard library's
// (text/template/parse); the escapers follow html/template, and the tests hold every template of the program and values
// drawn at random against it, byte for byte.
//
// What html/template allows and this does not is refused when the template is read, with its line: a value in a
// tag outside a quoted attribute, in a script, in a style sheet's or a handler's attribute, and a template called anywhere
// but between tags.
package markup

import (
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"maps"
	"path"
	"reflect"
	"slices"
	"text/template/parse"
)

// Texts that are written as they are: whoever makes one answers for its being safe in that place.
type (
	HTML = template.HTML // between tags
	CSS  = template.CSS  // in a style element
	URL  = template.URL  // as the whole of an address
)

// Escape makes a text safe between tags and in a quoted attribute.
func Escape(text string) string { return template.HTMLEscapeString(text) }

// Funcs are the functions that templates may call, by name: of any arguments, with one result or a result and an error. A
// method is one under the name of its type and its own: "view.Rule.BandY": (*view.Rule).BandY.
type Funcs map[string]any

// Set is a number of templates that may call each other.
type Set struct {
	trees   map[string]*parse.Tree
	funcs   map[string]reflect.Value
	escapes map[*parse.ActionNode]escaper
}

// Parse reads one text: the template called name, and those it defines.
func Parse(name, text string, funcs Funcs) (*Set, error) {
	s, err := empty(funcs)
	if err != nil {
		return nil, err
	}
	return s, s.add(name, text)
}

// ParseFS reads the files that match a pattern, each under its base name, and the templates they define.
func ParseFS(files fs.FS, pattern string, funcs Funcs) (*Set, error) {
	s, err := empty(funcs)
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(files, pattern)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		if err := s.add(path.Base(name), string(text)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func empty(funcs Funcs) (*Set, error) {
	s := &Set{trees: map[string]*parse.Tree{}, funcs: map[string]reflect.Value{}, escapes: map[*parse.ActionNode]escaper{}}
	all := maps.Clone(builtins())
	maps.Copy(all, funcs)
	for name, f := range all {
		v := reflect.ValueOf(f)
		if v.Kind() != reflect.Func || v.Type().NumOut() == 0 || v.Type().NumOut() > 2 || v.Type().NumOut() == 2 && v.Type().Out(1) != errorType {
			return nil, fmt.Errorf("markup: %s is no function with a result, or a result and an error", name)
		}
		s.funcs[name] = v
	}
	return s, nil
}

func (s *Set) add(name, text string) error {
	known := map[string]any{"and": true, "or": true} // the parser asks only whether there is one of that name
	for f := range s.funcs {
		known[f] = true
	}
	trees, err := parse.Parse(name, text, "{{", "}}", known)
	if err != nil {
		return err
	}
	for _, n := range slices.Sorted(maps.Keys(trees)) {
		if _, there := s.trees[n]; there {
			return fmt.Errorf("template: %s: %q is defined twice", name, n)
		}
		if err := s.placed(trees[n]); err != nil {
			return err
		}
		s.trees[n] = trees[n]
	}
	return nil
}

// Names lists the templates, in order.
func (s *Set) Names() []string { return slices.Sorted(maps.Keys(s.trees)) }

// Execute writes a template with data as its dot.
func (s *Set) Execute(w io.Writer, name string, data any) error {
	tree, ok := s.trees[name]
	if !ok {
		return fmt.Errorf("template %q is not defined", name)
	}
	r := run{set: s, w: w, tree: tree}
	v := reflect.ValueOf(data)
	r.vars = []variable{{"$", v}}
	return r.list(v, tree.Root)
}
