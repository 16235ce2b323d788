package bench

import (
	"encoding/json"
	"fmt"
	"regexp"

	"thoud/calc/quantity"
)

// Version is the version of the entry's form.
const Version = 1

// Kind says what an entry records.
type Kind string

// The kinds of entry.
const (
	GaugeAdded   Kind = "gauge-added"
	GaugeRemoved Kind = "gauge-removed"
	GaugeLost    Kind = "gauge-lost" // unplugged, powered off
	GaugeBack    Kind = "gauge-back" // open and speaking
	GaugeChecked Kind = "gauge-checked"
	GaugeChosen  Kind = "gauge-chosen"  // it reads where several of its role could
	BuildStarted Kind = "build-started" // with the plan word for word
	PlanChanged  Kind = "plan-changed"  // in mid-build, with the new plan word for word and the reason
	BuildClosed  Kind = "build-closed"
	StepEntered  Kind = "step-entered"
	PassOpened   Kind = "pass-opened"
	PassClosed   Kind = "pass-closed"
	PassVoid     Kind = "pass-void"
	ZeroSet      Kind = "zero-set"
	ZeroLost     Kind = "zero-lost"
	DatumSeen    Kind = "datum-seen" // the gauge rested on its datum again: a free check of the zero
	ReadingTaken Kind = "reading"
	Withdrawn    Kind = "withdrawn"
	Asked        Kind = "asked"  // a guard's question
	Answered     Kind = "answer" // to a question
	Confirmed    Kind = "confirmed"
	Acknowledged Kind = "acknowledged" // a step's cautions were read
	TallyIn      Kind = "tally-in"
	TallyOut     Kind = "tally-out"
	Overridden   Kind = "override" // engine data, a limit, a prerequisite or the tally, with a reason
	Signed       Kind = "signed"
	Reopened     Kind = "reopened"
	Dropped      Kind = "dropped" // something fell; the build is held until it is found
	Found        Kind = "found"
	Photo        Kind = "photo"
	RulesNamed   Kind = "rules"       // results are made by these rules and versions from here on
	ProfileNamed Kind = "profile"     // a gauge's frames are decoded by this text from here on
	HoursTold    Kind = "hours"       // an engine has run so many
	PartFitted   Kind = "part-fitted" // into an engine
	PartOut      Kind = "part-out"    // of an engine
	WorkDue      Kind = "work-due"    // it comes round every so many hours
	WorkDone     Kind = "work-done"
	KeyNamed     Kind = "key"        // notes are signed with this key from here on
	EngineValues Kind = "engine-set" // values of an engine, for all its builds from here on
)

// Place is where the bench stands: build, step, pass, point, and which seating of the point. DatumPoint stands for the
// closing reading on the datum.
type Place struct {
	Build   string `json:"build,omitempty"`
	Step    string `json:"step,omitempty"`
	Pass    int    `json:"pass,omitempty"`
	Point   string `json:"point,omitempty"`
	Seating int    `json:"seating,omitempty"`
}

// DatumPoint is the point of a closing reading on the datum.
const DatumPoint = "datum"

// String is the place in words.
func (p Place) String() string {
	if p.Build == "" {
		return "no build"
	}
	s := "job " + p.Build
	if p.Step != "" {
		s += ", " + p.Step
	}
	if p.Pass > 0 {
		s += fmt.Sprintf(", pass %d", p.Pass)
	}
	if p.Point != "" {
		s += ", " + p.Point
	}
	if p.Seating > 1 {
		s += fmt.Sprintf(" (seating %d)", p.Seating)
	}
	return s
}

// Entry is one thing that happened at a bench, numbered and sealed. The seal of an entry is SHA-256 over the seal
// before it and the bytes as published, see Seal; Prev names the seal before it in hex.
type Entry struct {
	V       int    `json:"v"`
	Bench   string `json:"bench"`
	N       uint64 `json:"n"`
	ID      string `json:"id"` // UUIDv7; also the message id on the bus
	Kind    Kind   `json:"kind"`
	At      int64  `json:"at"` // µs since 1970, UTC
	Boot    string `json:"boot,omitempty"`
	Up      int64  `json:"up,omitempty"` // µs since the machine was started; nobody sets this clock. 0: not known
	ClockOK bool   `json:"clock_ok"`
	Place   Place  `json:"place"`
	By      string `json:"by,omitempty"`   // initials, "pedal", "gauge", "settle"
	Verb    string `json:"verb,omitempty"` // id of the verb that asked for it
	Prev    string `json:"prev,omitempty"`

	Gauge    *Gauge     `json:"gauge,omitempty"`
	Link     *Link      `json:"link,omitempty"`
	Check    *Check     `json:"check,omitempty"`
	Build    *Started   `json:"build,omitempty"`
	Zero     *Zero      `json:"zero,omitempty"`
	Reading  *Reading   `json:"reading,omitempty"`
	Refers   string     `json:"refers,omitempty"` // id of the entry withdrawn, answered, lost …
	Reason   string     `json:"reason,omitempty"`
	Drift    *Drift     `json:"drift,omitempty"` // of a closed pass
	Question *Question  `json:"question,omitempty"`
	Choice   string     `json:"choice,omitempty"` // of an answer
	Item     string     `json:"item,omitempty"`   // of a confirmation, the tally, something dropped
	Count    int        `json:"count,omitempty"`
	Override *Override  `json:"override,omitempty"`
	Initials string     `json:"initials,omitempty"`
	Picture  *Picture   `json:"picture,omitempty"`
	Engine   *EngineSet `json:"engine,omitempty"`
	Life     *Life      `json:"life,omitempty"` // hours, parts, regular work

	Rules *RulesInForce `json:"rules,omitempty"`
	Key   string        `json:"key,omitempty"` // the public key of this bench's notes, in the text form of golang.org/x/mod/sumdb/note
}

// Gauge is one instrument in the register.
type Gauge struct {
	Name     string `json:"name"`
	Profile  string `json:"profile"`
	Port     string `json:"port,omitempty"` // the path it was registered at
	Known    Known  `json:"known"`          // by what it is found again
	Identity string `json:"identity,omitempty"`
	Role     string `json:"role"`
	Channel  string `json:"channel,omitempty"`
	// Unit is what the display shows, as the builder said, where the gauge's frames do not name it; "" takes the profile's.
	Unit string `json:"unit,omitempty"`
	// Longest is how many bytes a frame may have, by what was heard when it was registered; 0 where that is not known.
	Longest int   `json:"longest,omitempty"`
	Sends   Sends `json:"sends"`
	Sense   int   `json:"sense"` // +1 where the number grows when the contact is pushed in, else −1
	// Resolution is one count of the display; a zero Value takes it from each reading.
	Resolution quantity.Value `json:"resolution"`
	// Calibration is the expanded uncertainty of the certificate (coverage factor K, degrees of freedom Dof).
	Calibration quantity.Value `json:"calibration"`
	K           float64        `json:"k,omitempty"`
	Dof         float64        `json:"dof,omitempty"`
	Travel      quantity.Value `json:"travel"`
	// PerTurn is what one revolution of a plain dial's hand is, for readings typed as revolutions and hand.
	PerTurn quantity.Value `json:"per_turn"`
	// ProfileText is the profile word for word, as it decoded the gauge's frames from here on: a frame can be decoded again
	// by it, whatever becomes of the profile's file.
	ProfileText string `json:"profile_text,omitempty"`
}

// Known says by what a gauge is found again when it comes back.
type Known string

// By the identity of its adapter, by the socket it is plugged into, by the path alone (pseudo-terminals), or not at all
// because its values are typed.
const (
	KnownUSB    Known = "usb"
	KnownSocket Known = "socket"
	KnownPath   Known = "path"
	KnownKeyed  Known = "keyed"
)

// Sends says when a gauge speaks.
type Sends string

// On its data key, all the time, or when asked.
const (
	SendsKey    Sends = "key"
	SendsStream Sends = "stream"
	SendsPolled Sends = "polled"
)

// Link is a gauge that was lost or came back.
type Link struct {
	Gauge  string `json:"gauge"`
	Port   string `json:"port,omitempty"`
	Device string `json:"device,omitempty"` // identity of the device node while it is open
}

// Check is a gauge against setting standards, or a study of its repeatability; standard uncertainties in the gauge's
// base unit.
type Check struct {
	Gauge string  `json:"gauge"`
	Study bool    `json:"study,omitempty"`
	Error float64 `json:"error,omitempty"`
	U     float64 `json:"u"`
	Dof   float64 `json:"dof,omitempty"`
	Due   int64   `json:"due,omitempty"` // µs since 1970
}

// Started begins a build.
type Started struct {
	Job    string `json:"job"`
	Engine string `json:"engine,omitempty"` // which engine, so that builds of the same one can be compared
	Plan   string `json:"plan"`             // the plan's name
	Text   string `json:"text"`             // the plan word for word
}

// Zero is the datum: at this raw value the gauge shall read Shows. The zero's id is its entry's.
type Zero struct {
	Gauge  string         `json:"gauge"`
	Raw    quantity.Value `json:"raw"`
	Shows  quantity.Value `json:"shows"`
	Text   string         `json:"text,omitempty"`
	Frames [][]byte       `json:"frames,omitempty"`
	Device string         `json:"device,omitempty"`
}

// Reading is one captured value.
type Reading struct {
	Gauge   string         `json:"gauge"`
	Channel string         `json:"channel,omitempty"`
	Mode    string         `json:"mode"`
	Frames  [][]byte       `json:"frames,omitempty"` // verbatim, as they came
	Text    string         `json:"text,omitempty"`   // the frame's text as shown
	Status  string         `json:"status,omitempty"` // what the gauge said of itself: stable, unstable …
	Raw     quantity.Value `json:"raw"`
	Zero    string         `json:"zero,omitempty"` // id of the zero in force
	Value   quantity.Value `json:"value"`          // raw − zero.raw + zero.shows
	Keyed   bool           `json:"keyed,omitempty"`
	Turns   int            `json:"turns,omitempty"` // whole revolutions of a plain dial's hand, counted by eye
	// Goes and Stops are the largest blade that goes and the smallest that does not (bracket).
	Goes    *quantity.Value `json:"goes,omitempty"`
	Stops   *quantity.Value `json:"stops,omitempty"`
	Samples *Samples        `json:"samples,omitempty"` // of a sweep
	Rest    bool            `json:"rest,omitempty"`    // a rest on the datum (closing)
}

// Samples are the values of a sweep: At in µs from its start, Value in tenths of a nanometre (lengths) or as sent
// (others, Places), Angle in thousandths of a degree where two gauges were paired.
type Samples struct {
	At     []int64 `json:"at,omitempty"`
	Value  []int64 `json:"value"`
	Angle  []int64 `json:"angle,omitempty"`
	Unit   string  `json:"unit"`
	Places int     `json:"places"`
	Ended  string  `json:"ended,omitempty"` // why it ended, where not by hand
	Gaps   string  `json:"gaps,omitempty"`  // where a trace is thin
	// What the angle gauge of a trace sent, verbatim, and when each value came, in µs from the sweep's start; its name and
	// the id of the zero that counted for it, so that the angles can be found again.
	// Sent is how many values the gauge sent: a trace keeps those between the first angle and the last.
	Sent        int     `json:"sent,omitempty"`
	AngleGauge  string  `json:"angle_gauge,omitempty"`
	AngleFrames []byte  `json:"angle_frames,omitempty"`
	AngleAt     []int64 `json:"angle_at,omitempty"`
	AngleZero   string  `json:"angle_zero,omitempty"`
}

// Drift is how far a gauge had wandered when its pass was closed.
type Drift struct {
	By      quantity.Value `json:"by"`
	Allowed quantity.Value `json:"allowed"`
}

// Question is what a guard asks about a reading.
type Question struct {
	Guard   string   `json:"guard"`
	Words   string   `json:"words"`
	Choices []string `json:"choices"`
	// Take is the value of the reading if the choice is "take it so".
	Take *quantity.Value `json:"take,omitempty"`
}

// Override changes engine data or a limit for this build, or passes over a prerequisite or the tally.
type Override struct {
	What  string          `json:"what"` // "engine", "limit", "needs", "tally", "caution"
	Name  string          `json:"name"`
	Value *quantity.Value `json:"value,omitempty"`
	Word  string          `json:"word,omitempty"` // of engine data that is a word
	Lower *quantity.Value `json:"lower,omitempty"`
	Upper *quantity.Value `json:"upper,omitempty"`
	Dof   float64         `json:"dof,omitempty"` // of a set-up repeatability that was found, not stated
}

// Picture is a photo pinned to a step.
type Picture struct {
	Type  string `json:"type"`
	Bytes []byte `json:"bytes"`
	Note  string `json:"note,omitempty"`
}

var benchName = regexp.MustCompile(`^[a-z0-9-]{1,32}$`)

// ValidName reports whether a bench may have this name: it becomes part of subjects.
func ValidName(name string) bool { return benchName.MatchString(name) }

// Decode reads an entry's bytes. It fails on anything that is no entry of a version known here.
func Decode(b []byte) (Entry, error) {
	e, plain := decodePlain(b)
	if !plain {
		e = Entry{}
		if err := json.Unmarshal(b, &e); err != nil {
			return Entry{}, fmt.Errorf("entry: %w", err)
		}
	}
	switch {
	case e.V != Version:
		return Entry{}, fmt.Errorf("entry %d: form %d, this build reads form %d", e.N, e.V, Version)
	case !ValidName(e.Bench):
		return Entry{}, fmt.Errorf("entry %d: %q is not a bench name", e.N, e.Bench)
	case e.N == 0 || e.ID == "" || e.Kind == "":
		return Entry{}, fmt.Errorf("entry %d: number, id or kind missing", e.N)
	}
	return e, nil
}
