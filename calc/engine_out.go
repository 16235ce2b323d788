package calc

import (
	"fmt"

	"thoud/calc/quantity"
)

// Adjustment is what to move, which way and how far.
type Adjustment struct {
	What      string        // "block", "shims", "adjuster of the inlet valve"
	Amount    float64       // signed as the method says, base unit of Kind
	Kind      quantity.Kind // Length, Angle …; Number for counts
	Unit      string        // what a Number counts: "flats", "turns"
	Direction string        // a key a plan may replace by words of its own: "away", "towards", "fit", "remove"
	Answers   []string      // the figures whose verdict says whether it is needed; none: it always is
	Guards    []string      // figures that may ask for it although those it answers are in
	Least     float64       // what a hand can do at least, base unit of Kind; less is told as "leave it"; 0 where it is not known
	Pieces    []float64     // the shims or plates chosen, base unit of Kind; nil where there are none
	// Words is a sentence with {amount} (absolute, in the units shown), {signed}, {direction}, {pieces} ("0.020 +
	// 0.005"), and {figure:NAME} for a figure of this result. Run fills it in for both unit systems.
	Words string

	warnings []string
}

// warn adds a warning that goes with the order: it falls where the order falls.
func (a *Adjustment) warn(format string, args ...any) {
	a.warnings = append(a.warnings, fmt.Sprintf(format, args...))
}

// Out collects what a method finds. Setting an undeclared figure panics: that is a programmer's mistake.
type Out struct {
	method      *Method
	nums        map[string]float64
	lists       map[string][]float64
	grids       map[string][][]float64
	texts       map[string][]string
	said        map[string]string
	from        map[string]origin
	atLeast     map[string]bool
	adjustments []Adjustment
	warnings    []string
	fits        []Fit
	model       map[string]float64
	near        []nearWarning
	wantSlopes  bool // the first computation of a Run, which asks for them
	slopes      map[string]*Slopes
	touched     map[string]map[int]bool
	memory      *memory
	quiet       bool // its figures are looked at, its words are not
}

// empty makes room for a computation that is only to show how the figures of another move. What stood in it is gone.
func (o *Out) empty(base *Out) {
	clear(o.nums)
	clear(o.lists)
	clear(o.grids)
	clear(o.texts)
	*o = Out{method: base.method, nums: o.nums, lists: o.lists, grids: o.grids, texts: o.texts, memory: base.memory, quiet: true}
	if o.nums == nil {
		o.nums = make(map[string]float64, len(base.nums))
	}
}

// memory is what one computation of a Run leaves for the next, which is asked nearly the same. It may spare work and never
// change a figure.
type memory struct{ drops map[string]*dropFitter }

// dropsOf gives the fitter of one list of angles, the one of the computation before where there was one.
func (o *Out) dropsOf(angles string) *dropFitter {
	if o.memory == nil {
		return &dropFitter{}
	}
	if o.memory.drops == nil {
		o.memory.drops = map[string]*dropFitter{}
	}
	d := o.memory.drops[angles]
	if d == nil {
		d = &dropFitter{}
		o.memory.drops[angles] = d
	}
	return d
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

// Say sets how a figure of words is shown, where that is more than the words: a mark on a part with what it means.
func (o *Out) Say(name, shown string) {
	o.decl(name)
	if o.said == nil {
		o.said = map[string]string{}
	}
	o.said[name] = shown
}

// From says from where an angle counts, which is then shown in words and without a sign: a positive one comes after it, or
// before it.
func (o *Out) From(name string, way Way, centre string) {
	o.decl(name)
	if o.from == nil {
		o.from = map[string]origin{}
	}
	o.from[name] = origin{way, centre}
}

// Way is on which side of a dead centre a positive angle lies.
type Way string

// The two ways, and the dead centre that most angles count from.
const (
	After     Way = "after"
	Before    Way = "before"
	theTop        = "the top"
	theBottom     = "the bottom"
)

// origin is what an angle counts from.
type origin struct {
	way    Way
	centre string
}

// words says an angle: "4.6° before the top" of −4.6° after it. shown is its amount without a sign.
func (o origin) words(x float64, shown string) string {
	way := o.way
	switch {
	case isNothing(shown):
		return o.centre
	case x < 0 && way == After:
		way = Before
	case x < 0:
		way = After
	}
	return shown + " " + string(way) + " " + o.centre
}

// FromTop says where it is at an angle that is positive after the top; shown is its amount without a sign.
func FromTop(x float64, shown string) string {
	if isNothing(shown) {
		return "at " + theTop
	}
	return origin{After, theTop}.words(x, shown)
}

// AtLeast says that a figure may be more than was computed but not less: no limit from above is then clearly kept.
func (o *Out) AtLeast(name string) {
	o.decl(name)
	if o.atLeast == nil {
		o.atLeast = map[string]bool{}
	}
	o.atLeast[name] = true
}

// SetFlag sets a figure that is yes or no.
func (o *Out) SetFlag(name string, yes bool) {
	if yes {
		o.SetText(name, "yes")
	} else {
		o.SetText(name, "no")
	}
}

// nearWarning is a warning that holds where a figure is not clearly over a bound.
type nearWarning struct {
	figure string
	bound  float64
	words  string
}

// WarnNear adds a warning that is told where a figure is less than its U over a bound, which only Run knows.
func (o *Out) WarnNear(figure string, bound float64, words string) {
	o.decl(figure)
	o.near = append(o.near, nearWarning{figure, bound, words})
}

// Adjust adds an adjustment.
func (o *Out) Adjust(a Adjustment) { o.adjustments = append(o.adjustments, a) }

// Warn adds a warning.
func (o *Out) Warn(format string, args ...any) {
	if o.quiet {
		return
	}
	o.warnings = append(o.warnings, fmt.Sprintf(format, args...))
}
