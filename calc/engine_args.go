package calc

import (
	"slices"

	"thoud/calc/quantity"
)

// Args gives a method its inputs as plain numbers. An input that was not given reads as zero, "", false or nil; ask
// Has first. Asking for an undeclared name panics: that is a programmer's mistake.
type Args struct {
	inputs []Input
	vals   map[string]Val
}

// Kind is what a scalar or list measures; of one declared AnyKind, what the request is about.
func (a Args) Kind(name string) quantity.Kind { return a.decl(name, Scalar, List).Kind }

func (a Args) decl(name string, shapes ...Shape) Input {
	for _, in := range a.inputs {
		if in.Name == name || in.Name == AnyName {
			for _, s := range shapes {
				if in.Shape == s {
					return in
				}
			}
			panic("calc: input " + name + " has another shape")
		}
	}
	panic("calc: no input " + name)
}

// Has reports whether the input was given.
func (a Args) Has(name string) bool { _, ok := a.vals[name]; return ok }

// Num is a scalar's value.
func (a Args) Num(name string) float64 {
	a.decl(name, Scalar)
	if v, ok := a.vals[name]; ok && v.Num != nil {
		return v.Num.X
	}
	return 0
}

// NumOr is a scalar's value, or def where it was not given.
func (a Args) NumOr(name string, def float64) float64 {
	if !a.Has(name) {
		a.decl(name, Scalar)
		return def
	}
	return a.Num(name)
}

// U is the combined standard uncertainty a scalar was given with, 0 where none.
func (a Args) U(name string) float64 {
	a.decl(name, Scalar)
	if v, ok := a.vals[name]; ok && v.Num != nil {
		return v.Num.StdU()
	}
	return 0
}

// List is a list's values; a fresh slice.
func (a Args) List(name string) []float64 {
	a.decl(name, List)
	v := a.vals[name]
	return plain(v.List)
}

// Grid is a grid's values; fresh slices.
func (a Args) Grid(name string) [][]float64 {
	a.decl(name, Grid)
	var g [][]float64
	for _, row := range a.vals[name].Grid {
		g = append(g, plain(row))
	}
	return g
}

// Cube is a cube's values; fresh slices.
func (a Args) Cube(name string) [][][]float64 {
	a.decl(name, Cube)
	var c [][][]float64
	for _, page := range a.vals[name].Cube {
		var g [][]float64
		for _, row := range page {
			g = append(g, plain(row))
		}
		c = append(c, g)
	}
	return c
}

// Names lists the inputs that were given, sorted: for a Record with fields of any name.
func (a Args) Names() []string { return Sorted(a.vals) }

// Text is a word.
func (a Args) Text(name string) string { a.decl(name, Text); return a.vals[name].Text }

// TextOr is a word, or def where it was not given.
func (a Args) TextOr(name, def string) string {
	if s := a.Text(name); s != "" {
		return s
	}
	return def
}

// Flag is true where the flag was given and set.
func (a Args) Flag(name string) bool {
	a.decl(name, Flag)
	f := a.vals[name].Flag
	return f != nil && *f
}

// Rec is one object.
func (a Args) Rec(name string) Args {
	return Args{a.decl(name, Record).Fields, a.vals[name].Rec}
}

// Recs is a list of objects.
func (a Args) Recs(name string) []Args {
	fields := a.decl(name, Records).Fields
	var out []Args
	for _, r := range a.vals[name].Recs {
		out = append(out, Args{fields, r})
	}
	return out
}

// Sorted gives the keys of a table in their order.
func Sorted[T any](table map[string]T) []string {
	out := make([]string, 0, len(table))
	for key := range table {
		out = append(out, key)
	}
	slices.Sort(out)
	return out
}

func plain(ns []Num) []float64 {
	if ns == nil {
		return nil
	}
	out := make([]float64, len(ns))
	for i, n := range ns {
		out[i] = n.X
	}
	return out
}
