package plan

import (
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Phase is the part of a build a step belongs to.
type Phase string

// The phases, in order.
const (
	Dry   Phase = "dry"   // figures that choose parts
	Wash  Phase = "wash"  // strip and clean
	Final Phase = "final" // named proofs are measured again
	Start Phase = "start" // the first start
	Heat  Phase = "heat"  // after the first heat
)

// Kind says what is done in a step.
type Kind string

// The kinds of step.
const (
	Measure Kind = "measure" // readings, and usually a method
	Fit     Kind = "fit"     // a part goes in; confirmations, items in and out
	Check   Kind = "check"   // looked at and confirmed
)

// Mode is how a reading is captured.
type Mode string

// The capture modes.
const (
	Press   Mode = "press"   // the gauge's data key, the pedal, a key, a button, a command
	Settle  Mode = "settle"  // left the last place, then still within a band for a dwell
	Highest Mode = "highest" // greatest value of a sweep
	Lowest  Mode = "lowest"  // least value of a sweep
	Swing   Mode = "swing"   // highest − lowest over a turn
	Trace   Mode = "trace"   // two gauges paired: value against angle
	Keyed   Mode = "keyed"   // typed by hand from a plain dial
	Bracket Mode = "bracket" // feelers: the largest that goes, the smallest that does not
	// By eye, without an angle gauge.
	Stops     Mode = "stops"     // at a named angle of the wheel: highest − lowest while it is pushed to contact
	Crossings Mode = "crossings" // the wheel, typed where the gauge passes a height in the running direction
)

// Plan is one plan, expanded: "for each cylinder" is already written out.
type Plan struct {
	Name      string
	Title     string
	Version   int
	Cylinders []string // as seen from the rider's seat, left first
	Blocks    []string // what the guide blocks are called: as the cylinders, or as the valves where there are two camshafts
	Valves    []string // of each cylinder
	Variants  []Variant
	Nevers    []Never  // choices that contradict each other
	Left      []string // ids of the steps that these variants leave out
	Engine    []Datum
	Steps     []Step
	Cautions  []string                       // general ones, shown before the first step and on the sheet
	Guard     float64                        // guard band of every verdict as a multiple of U (ISO 14253-1); 0 means 1
	Text      []byte                         // the file word for word
	Figures   map[string]map[string][]string // by step and run: what computations take of each other, see Taken
	Ups       map[string][]string            // by step: the others of which its computations take something, see DependsOn
	Firsts    map[string]string              // the first choice of every question that the text asks, see Deciding
}

// Datum is one piece of engine data, or a customary value.
type Datum struct {
	Name    string // "bore"; bindings say @engine.bore
	Title   string
	Kind    quantity.Kind    // Number for counts and ratios; "" for words
	Value   quantity.Value   // a single quantity
	List    []quantity.Value // or several (shims in stock)
	Word    string           // or a word ("5/16-24 UNF")
	U       quantity.Value   // stated standard uncertainty, if any
	Source  string           // maker's data, builder's choice, common practice
	Confirm bool             // the builder must confirm it before the first reading that uses it
	// Derived is how the value follows from other data ("stroke / 2"), "" where it is given.
	Derived string
	Choice  []string // the words it may be, where it is a word and only some are understood
}

// Words is the datum for people: its word, its list, or its value.
func (d Datum) Words() string {
	switch {
	case d.Word != "":
		return d.Word
	case len(d.List) > 0:
		var all []string
		for _, v := range d.List {
			all = append(all, v.String())
		}
		return strings.Join(all, ", ")
	}
	return d.Value.String()
}

// Step is one piece of work.
type Step struct {
	ID    string // [a-z0-9-]
	Title string
	Do    string // what to do now, one sentence
	Phase Phase
	Kind  Kind
	Needs []string // steps that must be done first
	Sides []SideNeed
	// Cylinder is the one that the step is written out for, "" where it is for none alone.
	Cylinder string
	Points   []Point
	Capture  Capture
	Datum    *Rest      // where the gauge is zeroed; nil where the step needs no zero
	Gauges   []GaugeUse // further gauges, named by the points that are read with them
	Seatings int        // readings wanted at every point, each after seating the part anew; at least 1
	// Setup is the stated set-up repeatability as a standard uncertainty; where Seatings > 1 it is found from them.
	Setup    quantity.Value
	Compute  *Compute  // nil where nothing is computed
	Also     []Compute // what else is computed from the same readings, and what is told before the first of them
	Confirms []Confirm
	Asks     []Ask    // questions whose answer is kept for the build
	Awaits   []string // questions of other steps that must be answered first
	Cautions []string
	Notes    []string
	Items    []Item // go into the engine in this step and must come out again
	Out      []string
	Loose    []Loose  // left nipped, started, unlocked or dry in this step
	Ends     []string // names of loose things that this step makes fast
	Cures    []Cure   // times that begin when the step is done
	Data     bool     // all engine data that must be confirmed are confirmed here, on one page
	Hold     bool     // a hold point: the next step waits for a signature
	Proof    bool     // measured again in the final phase
	// Again is the earlier step (a Proof) that this one measures again with the same points and method; "" = none.
	Again string
	// LeftOut is why the step is left out of this build: nothing more is done in it, and what was read in it stays in sight.
	LeftOut string
	View    string // which drawing: "twin-top", "crank", "cylinder", "valve-gear"
}

// Point is one place where a reading is wanted.
type Point struct {
	ID    string // "left", "right.inlet", "left.top.thrust"
	Title string
	Do    string // overrides the step's sentence at this point
	// Cylinder is the one that the point is written out for, or the guide block where these are the camshafts'; "" where it
	// is for none alone.
	Cylinder string
	// Once: the reading of an earlier pass stands in later ones until it is taken anew (the contact of a guide block).
	Once bool
	// First: it must be in before the other points, of its cylinder where it has one, are asked for.
	First bool
	// FromPass is the first pass this point is wanted in; 0 and 1 mean from the start.
	FromPass int
	Role     string // gauge role wanted, "" = the step's
	Mode     Mode   // "" = the step's
	Gauge    string // name of one of the step's further gauges, "" = the step's own
	// Angle is where on the circle the point is, for methods that want angles; nil where it has none.
	Angle *float64
	Depth *quantity.Value // how far down a bore, for bore maps
	// Height is what the gauge shows where the wheel is read, on which flank; HeightData names the engine data it is from.
	Height     *quantity.Value
	HeightData string
	Flank      Flank
	Turned     string // which way the crankshaft was turned onto a stop: forward or back
	// Least and Most bound what is plausible here; outside them the bench asks. Zero Values = no bound.
	Least, Most quantity.Value
	// Unit is what a plain number counts that is read here: "%", "s"; "" where the kind has its unit.
	Unit string
}

// Capture says how readings of a step are taken.
type Capture struct {
	Mode  Mode
	Role  string        // gauge role: indicator, caliper, bore, angle, scale …
	Kind  quantity.Kind // what is measured
	Dwell time.Duration // settle: still this long; 0 = 600 ms
	Band  quantity.Value
	Angle string // trace: role of the angle gauge
	// AngleSetup is how well the zero of the angle gauge stands where the step wants it, as a standard uncertainty.
	AngleSetup quantity.Value
	// Parallax is how far a wheel is misread from askew, as a standard uncertainty.
	Parallax quantity.Value
}

// Rest is the datum of a step: where the gauge is set to zero, or to the size of a setting standard.
type Rest struct {
	Do   string         // "rest the indicator on the joint face"
	Size quantity.Value // the gauge shall read this there; a zero length for 0
	// SizeData names the engine data that Size comes from, "" where it is a number of the plan's own.
	SizeData string
	Close    bool           // the pass is closed by reading the datum again
	Drift    quantity.Value // allowed at closing; zero Value = 10 % of the tolerance
	Each     bool           // set anew in every pass
	// AtPoint: every point has a zero of its own (a free bolt), which stands through the passes.
	AtPoint bool
}

// Per says how often a step's method runs over a pass.
type Per string

// Once a pass, or once for every point, cylinder, valve of every cylinder, guide block, or cylinder after the first.
const (
	PerPass     Per = "pass"
	PerPoint    Per = "point"
	PerCylinder Per = "cylinder"
	PerValve    Per = "valve"
	PerBlock    Per = "block"
	PerOther    Per = "others"
)

// Compute binds a step to a method. One Run per key: "" for PerPass, the point's id, the cylinder ("left"), or cylinder
// and valve ("left.inlet").
type Compute struct {
	Name string // of one among several of a step; "" for the step's own
	// Called is how people call it where its name says too little: "inlet" of the step's own, beside one named exhaust.
	Called string
	// Of is what a computation that is written out ("for") runs for: "left", "left.inlet"; none: by Per.
	Of     []string
	Method string
	Per    Per
	Inputs map[string]Binding // names of the method's inputs; {key}, {cylinder}, {valve} in references stand for the run's
	Limits map[string]calc.Limit
	Words  map[string]string // direction words of this plan
	Shown  []string          // figures shown large, in order; the rest stand below
	// Approach names the figure whose limits give the band to move the part into and the point the gauge stands on
	// meanwhile ({key} allowed); empty where nothing is moved under the gauge.
	ApproachFigure, ApproachPoint string
	// LimitData says, for limits that are engine data, whose: Limits already holds the numbers as the plan has them, but a
	// build that overrides the data must put its own there.
	LimitData map[string]LimitData
	// LimitFrom is the pass from which on a limit binds, for limits that don't bind in the first.
	LimitFrom map[string]int
	// Points are patterns of the points that a computation for every point runs for; none for all.
	Points []string
	// FromPass is the first pass it runs in; 0 and 1 mean from the start.
	FromPass int
	// Before: it runs on wanted values when the step is entered, and is shown before the first reading.
	Before bool
	// Kind is what a method for any kind computes with; "" = the kind of the step's readings.
	Kind quantity.Kind
	// Told is what to do where a limit is not kept and the method gives no order of its own.
	Told string
}

// LimitData names the engine data that a limit's sides come from; "" where a side is a number of the plan's own.
type LimitData struct {
	Lower, Upper string
}

// Binding is where an input comes from: references or a constant. Several references make a list.
//
//	@reading                 the standing reading of the run's point in this pass
//	@reading:left.now        of that point of this step; @reading:STEP/left.now of another step's pass in force
//	@readings:left.*         every standing reading that matches, in plan order; with two stars a grid by the first
//	@angles:left.*           the Angle of the points that match; @depths:left.* their Depth, @heights:left.* their Height
//	@samples.angle:POINT     the angles of a trace; @samples.value:POINT its values
//	@engine.bore             engine data
//	@figure:STEP.deck        a figure of another step's pass in force; @figure:STEP.left.contact of the run "left";
//	                         @figure:STEP.places.sizes[2] the second of a figure that is a list
//	                         @figure:STEP.*.contact of every run that fits
//	@prior:left.now          that point's standing reading in the pass before
//
// {key}, {cylinder}, {valve} and {block} stand for the run's own. Optional: a reference written with a trailing "?" is left out
// where there is nothing yet.
type Binding struct {
	Refs     []Ref     // nil for a constant
	Many     bool      // written as a list
	Sum      bool      // what the references give is added up
	Optional bool      // from the trailing "?"
	Const    *calc.Val // in base units
	// Rec and Recs are set instead for an object, or a list of objects, some of whose fields are references: a binding
	// for each field (a bolt's length measured, its thread from engine data).
	Rec  map[string]Binding
	Recs []map[string]Binding
}

// Confirm is something the builder confirms with a key.
type Confirm struct {
	ID    string
	Text  string // "the block is marked left or right"
	Alone bool   // asked singly, with a press of its own
	First bool   // asked before the first reading of the step, not after the last
	// Cylinder is the one it is about, "" where it is about none alone.
	Cylinder string
}

// Item is a temporary thing in the engine.
type Item struct {
	Name      string
	KeepUntil string // step that must be done before it may come out; ""
	OutBefore string // step that may not begin while it is in
	Count     int    // pieces; at least 1
	First     bool   // it goes in before the first reading of the step, not after the last
}

// Loose is something left nipped, started, unlocked or without compound.
type Loose struct {
	Name string
	Ends string // the step that makes it fast
}

// Cure is a time that begins when its step is done: compound cures, an engine cools, a tin's open time runs out.
type Cure struct {
	Name  string
	Time  time.Duration
	Holds []string // steps that may not begin before it is over
	Until string   // open time: the step that must be done before it is over; "" where it holds
}

// Words is how people call the time: "compound grip", "left joint open".
func (c Cure) Words() string { return Called(c.Name) }

// Called is how people call what a plan names for the tally, for what is left loose or for a time: "light springs".
func Called(name string) string { return strings.ReplaceAll(name, "-", " ") }

// Step finds a step by id.
func (p *Plan) Step(id string) (Step, bool) {
	if i := p.Index(id); i >= 0 {
		return p.Steps[i], true
	}
	return Step{}, false
}

// Index is the step's place in the order, −1 where there is none of that id.
func (p *Plan) Index(id string) int {
	for i := range p.Steps { // a step is large, and looked for with every entry: it is not copied on the way
		if p.Steps[i].ID == id {
			return i
		}
	}
	return -1
}

// Datum finds engine data by name.
func (p *Plan) Datum(name string) (Datum, bool) {
	for i := range p.Engine { // as with steps
		if p.Engine[i].Name == name {
			return p.Engine[i], true
		}
	}
	return Datum{}, false
}

// Point finds a point by id.
func (s Step) Point(id string) (Point, bool) {
	for i := range s.Points {
		if s.Points[i].ID == id {
			return s.Points[i], true
		}
	}
	return Point{}, false
}

// Wanted lists the points that a pass (from 1) asks for, in order, before looking at what stands already.
func (s Step) Wanted(pass int) []Point {
	var out []Point
	for _, p := range s.Points {
		if max(p.FromPass, 1) <= pass {
			out = append(out, p)
		}
	}
	return out
}
