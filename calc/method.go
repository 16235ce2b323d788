// Package calc is the arithmetic of the trade: one method a file, a table of them, and Run, which checks the inputs,
// computes, propagates uncertainty (GUM, JCGM 100) and decides against limits (ISO 14253-1). Everything in it is pure:
// no clock, no files, no globals but tables. What must not be answered is refused with a *Refusal; nothing is guessed.
//
// Conventions. Inside the package a quantity is a float64 in its kind's base unit (quantity.Base: mm, deg, N, g, cm³,
// N·m, N/mm, N/mm²). Crank angles are positive in the running direction, 0 at top dead centre (overlap TDC of cylinder
// 1 in a 720° cycle). An adjustment is signed: what is still to do.
package calc

import (
	"fmt"
	"maps"
	"slices"

	"thoud/calc/quantity"
)

// Shape says how an input is given.
type Shape int

// The shapes.
const (
	Scalar   Shape = iota // one quantity
	List                  // quantities
	Grid                  // a list of lists of quantities
	Cube                  // a list of grids
	Text                  // a word, one of Enum where Enum is given
	TextList              // words
	Flag                  // true or false
	Record                // one object with Fields
	Records               // a list of objects with Fields
)

// AnyKind declares an input or a figure of whatever kind the request is about (Request.Kind): statistics work on
// lengths and on plain numbers alike.
const AnyKind quantity.Kind = ""

// AnyName as the name of a Record's only field accepts fields of any name, all of that field's shape.
const AnyName = "*"

// Input is one named input of a method.
type Input struct {
	Name     string
	Shape    Shape
	Kind     quantity.Kind // of the quantities; Number for counts and ratios; AnyKind
	Optional bool
	Enum     []string // of a Text: the words that are understood
	Fields   []Input  // of a Record or Records
	Positive bool     // every quantity must be > 0
	Doc      string   // what it is, sign, where it is measured
}

// Figure is one named figure of a method.
type Figure struct {
	Name   string
	Kind   quantity.Kind
	List   bool // several values
	Grid   bool // a table of values
	Text   bool // words instead of numbers
	Flag   bool // yes or no
	Choice bool // chosen or counted, so without uncertainty
	Doc    string
}

// Method is one computation: named inputs in, figures and adjustment out.
type Method struct {
	Name     string // fixed: plans, stored results and the command line use it
	Version  int    // raised when the same inputs may give other figures
	Title    string // in a builder's words
	Inputs   []Input
	Figures  []Figure
	Formula  string // as shown in the help
	Source   string // standard, handbook or "common practice"
	Cautions []string
	// Compute fills out from in. Inputs were checked against the declaration (kinds, presence, finite, Positive).
	// It returns a *Refusal for what must not be answered and an *InputError for an input that is missing or
	// malformed in a way the declaration cannot say (one of two must be given). It must be a pure function: Run calls it many times with
	// slightly different inputs to find the sensitivities.
	Compute func(in Args, out *Out) error
}

// Refusal says why a method does not answer.
type Refusal struct {
	What string // the field or the figure
	Why  string // with the value
	Do   string // what to do about it
}

// Error gives the refusal in one sentence.
func (r *Refusal) Error() string {
	s := r.What + ": " + r.Why
	if r.Do != "" {
		s += "; " + r.Do
	}
	return s
}

// Refuse makes a *Refusal; why may be a format.
func Refuse(what, do, why string, args ...any) error {
	return &Refusal{What: what, Why: fmt.Sprintf(why, args...), Do: do}
}

// Component is one source of uncertainty of an input.
type Component struct {
	Name   string  `json:"name"`             // "resolution", "calibration", "zero", "set-up repeatability"
	U      float64 `json:"u"`                // standard uncertainty, base unit of the input, ≥ 0
	Dof    float64 `json:"dof,omitempty"`    // degrees of freedom; 0 = infinite
	Shared string  `json:"shared,omitempty"` // the same key on several inputs: one common error (same zero, same master)
}

// Num is one number of an input, with where its doubt comes from.
type Num struct {
	X  float64     `json:"x"` // base unit of the input's kind
	Us []Component `json:"us,omitempty"`
}

// Val is one input as given. Just the field of the declared shape is used.
type Val struct {
	Num   *Num             `json:"num,omitempty"`
	List  []Num            `json:"list,omitempty"`
	Grid  [][]Num          `json:"grid,omitempty"`
	Cube  [][][]Num        `json:"cube,omitempty"`
	Text  string           `json:"text,omitempty"`
	Texts []string         `json:"texts,omitempty"`
	Flag  *bool            `json:"flag,omitempty"`
	Rec   map[string]Val   `json:"rec,omitempty"`
	Recs  []map[string]Val `json:"recs,omitempty"`
}

// Limit bounds a figure; a nil side is open. Base unit of the figure's kind.
type Limit struct {
	Lower  *float64 `json:"lower,omitempty"`
	Upper  *float64 `json:"upper,omitempty"`
	Source string   `json:"source,omitempty"` // maker's data, builder's choice, common practice
}

// Request is one computation to run.
type Request struct {
	Method string           `json:"method"`
	Inputs map[string]Val   `json:"inputs"`
	Kind   quantity.Kind    `json:"kind,omitempty"` // of inputs declared AnyKind; "" is Number
	Limits map[string]Limit `json:"limits,omitempty"`
	Guard  float64          `json:"guard,omitempty"` // guard band as a multiple of U; 0 means 1 (ISO 14253-1)
	Level  float64          `json:"level,omitempty"` // coverage probability; 0 means 0.95
	// Words replaces direction words: key is the method's direction ("away"), value the plan's words.
	Words map[string]string `json:"words,omitempty"`
	// GaugeOnly is set where no set-up repeatability is known: the verdict then says so.
	GaugeOnly bool `json:"gauge_only,omitempty"`
	// Digits is the resolution the readings were taken with, in mm, so that words never show invented digits; 0 unknown.
	Digits float64 `json:"digits,omitempty"`
}

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
func (a Args) Names() []string { return slices.Sorted(maps.Keys(a.vals)) }

// Text is a word.
func (a Args) Text(name string) string { a.decl(name, Text); return a.vals[name].Text }

// TextOr is a word, or def where it was not given.
func (a Args) TextOr(name, def string) string {
	if s := a.Text(name); s != "" {
		return s
	}
	return def
}

// Texts is a list of words.
func (a Args) Texts(name string) []string { a.decl(name, TextList); return a.vals[name].Texts }

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

// Adjustment is what to move, which way and how far.
type Adjustment struct {
	What      string        // "block", "shims", "adjuster of the inlet valve"
	Amount    float64       // signed as the method says, base unit of Kind
	Kind      quantity.Kind // Length, Angle …; Number for counts
	Unit      string        // what a Number counts: "flats", "turns"
	Direction string        // a key a plan may replace by words of its own: "away", "towards", "fit", "remove"
	Pieces    []float64     // the shims or plates chosen, base unit of Kind; nil where there are none
	// Words is a sentence with {amount} (absolute, in the units shown), {signed}, {direction}, {pieces} ("0.020 +
	// 0.005"), and {figure:NAME} for a figure of this result. Run fills it in for both unit systems.
	Words string
}

// Out collects what a method finds. Setting an undeclared figure panics: that is a programmer's mistake.
type Out struct {
	method      *Method
	nums        map[string]float64
	lists       map[string][]float64
	grids       map[string][][]float64
	texts       map[string][]string
	adjustments []Adjustment
	warnings    []string
}

func (o *Out) decl(name string) Figure {
	for _, f := range o.method.Figures {
		if f.Name == name {
			return f
		}
	}
	panic("calc: " + o.method.Name + " declares no figure " + name)
}

// Set sets a figure.
func (o *Out) Set(name string, x float64) { o.decl(name); o.nums[name] = x }

// SetList sets a figure of several values.
func (o *Out) SetList(name string, xs []float64) {
	o.decl(name)
	if o.lists == nil {
		o.lists = map[string][]float64{}
	}
	o.lists[name] = xs
}

// SetGrid sets a figure that is a table.
func (o *Out) SetGrid(name string, xs [][]float64) {
	o.decl(name)
	if o.grids == nil {
		o.grids = map[string][][]float64{}
	}
	o.grids[name] = xs
}

// SetText sets a figure of words.
func (o *Out) SetText(name string, words ...string) {
	o.decl(name)
	if o.texts == nil {
		o.texts = map[string][]string{}
	}
	o.texts[name] = words
}

// SetFlag sets a figure that is yes or no.
func (o *Out) SetFlag(name string, yes bool) {
	if yes {
		o.SetText(name, "yes")
	} else {
		o.SetText(name, "no")
	}
}

// Adjust adds an adjustment.
func (o *Out) Adjust(a Adjustment) { o.adjustments = append(o.adjustments, a) }

// Warn adds a warning.
func (o *Out) Warn(format string, args ...any) {
	o.warnings = append(o.warnings, fmt.Sprintf(format, args...))
}
