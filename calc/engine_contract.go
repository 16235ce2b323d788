package calc

import (
	"fmt"

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
	Most     int      // of a list: most members; 0 is what any list may have
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
	// Scatter marks a figure that is itself a scatter or an uncertainty, so has none of its own.
	Scatter bool
	// Picks is set for a list of which every value is one of those that were given; nil for what is computed.
	Picks *Pick
	// Unit is what a plain number counts, "flats" or ": 1" of a ratio; "" where it counts nothing or the kind has its unit.
	Unit string
	Doc  string
}

// Pick says which of the values given the elements of a list are: this field of the records of an input, the one whose number,
// from 1, the figure By has at the same place.
type Pick struct{ From, Field, By string }

// certain reports whether a figure is one that has no uncertainty.
func (f Figure) certain() bool { return f.Choice || f.Scatter || f.Text || f.Flag }

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
	// Uncertainty, where a method has it, gives numbers of a list the uncertainty that follows from other inputs: the step of the
	// wheel they were read from, the height at which they were read. Run asks it once, before it computes. The lists may be of
	// any length; a number that is not there is left out.
	Uncertainty func(in Args, add func(list string, member int, c Component))
}

// Refusal says why a method does not answer.
type Refusal struct {
	What string `json:"field"`            // the field or the figure
	Why  string `json:"reason"`           // with the value
	Do   string `json:"remedy,omitempty"` // what to do about it
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
	U      float64 `json:"u"`                // standard uncertainty, base unit of the input, ≥ 0; of a shared one below 0 where the input follows the error the other way
	Dof    float64 `json:"dof,omitempty"`    // degrees of freedom; 0 = infinite
	Shared string  `json:"shared,omitempty"` // the same key on several inputs: one common error (same zero, same master)
}

// Num is one number of an input, with where its uncertainty comes from.
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
	// Told is what to do where a limit is not kept and the method has no order of its own.
	Told string `json:"told,omitempty"`
	// GaugeOnly is set where no set-up repeatability is known: the verdict then says so.
	GaugeOnly bool `json:"gauge_only,omitempty"`
	// Digits is the resolution the readings were taken with, in mm, so that words never show invented digits; 0 unknown.
	Digits float64 `json:"digits,omitempty"`
	// Common names single figures that another computation will take: their results then say which errors they have in common with
	// others, so that a difference of two of them is free of it.
	Common []string `json:"common,omitempty"`
}
