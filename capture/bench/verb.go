package bench

import "thoud/calc/quantity"

// Verb is something a person (or a pedal) asks of the bench. It carries an id, so that asked twice it is done once, and
// the place its sender saw, so that one that comes too late is refused rather than done elsewhere.
type Verb struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Seen *Place `json:"seen,omitempty"` // nil: wherever the bench stands (the first verb of a client)
	By   string `json:"by,omitempty"`

	Gauge    string          `json:"gauge,omitempty"`
	Register *Gauge          `json:"register,omitempty"` // gauge-add
	Build    *Started        `json:"build,omitempty"`    // build-start, plan
	Place    *Place          `json:"place,omitempty"`    // goto
	Value    *quantity.Value `json:"value,omitempty"`    // zero: what the gauge shall read; key: the typed value
	Turns    int             `json:"turns,omitempty"`    // key: whole revolutions of the dial's hand besides the value
	Goes     *quantity.Value `json:"goes,omitempty"`     // bracket
	Stops    *quantity.Value `json:"stops,omitempty"`
	Item     string          `json:"item,omitempty"`  // confirm, tally, question's id
	Count    int             `json:"count,omitempty"` // pieces counted out
	Choice   string          `json:"choice,omitempty"`
	Reason   string          `json:"reason,omitempty"`
	Initials string          `json:"initials,omitempty"`
	Override *Override       `json:"override,omitempty"`
	Check    *Check          `json:"check,omitempty"`
	Picture  *Picture        `json:"picture,omitempty"`
	Life     *Life           `json:"life,omitempty"`   // hours, part-fit, part-out, regular
	Engine   *EngineSet      `json:"engine,omitempty"` // engine-set
}

// The verbs.
const (
	DoGaugeAdd    = "gauge-add"
	DoGaugeRemove = "gauge-remove"
	DoGaugeCheck  = "gauge-check"
	DoUse         = "use" // this gauge for its role from now on
	DoBuildStart  = "build-start"
	DoBuildClose  = "build-close"
	DoPlan        = "plan" // the build goes on by another text of its plan
	DoGoto        = "goto"
	DoNext        = "next"  // the next step, or the next pass where the verdict is not in
	DoAgain       = "again" // another pass of this step
	DoVoid        = "void"  // this pass does not count, with a reason
	DoZero        = "zero"
	DoTake        = "take"
	DoRetake      = "retake" // withdraw the last reading (or the one at Place) and stand there again
	DoKey         = "key"    // a typed reading
	DoBracket     = "bracket"
	DoSweep       = "sweep" // begin or end a sweep
	DoConfirm     = "confirm"
	DoAcknowledge = "acknowledge"
	DoAnswer      = "answer"
	DoSign        = "sign"
	DoReopen      = "reopen"
	DoOverride    = "override"
	DoTallyIn     = "tally-in"
	DoTallyOut    = "tally-out"
	DoDropped     = "dropped"
	DoFound       = "found"
	DoPhoto       = "photo"
	DoHours       = "hours"      // an engine has run so many
	DoFit         = "part-fit"   // a part goes into an engine
	DoPartOut     = "part-out"   // and comes out
	DoRegular     = "regular"    // work that comes round: how often, or that it is done
	DoEngineSet   = "engine-set" // keep values of an engine in its record
)

// Answer is what the bench says to a verb.
type Answer struct {
	OK    bool   `json:"ok"`
	Words string `json:"words"`           // what was done, or why not and what to do
	N     uint64 `json:"n,omitempty"`     // the last entry it led to
	Place Place  `json:"place"`           // where the bench stands now
	Moved bool   `json:"moved,omitempty"` // refused because the bench has moved on
}
