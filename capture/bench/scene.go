package bench

import (
	"errors"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Scene is all that a decision may depend on: what is recorded, and what the bench knows besides at this moment. Whoever
// asks the rules makes one. Times are µs since 1970, UTC.
type Scene struct {
	State     State
	Results   Results
	Committed uint64 // number of the last entry known to be in the ledger
	Now       int64
	Boot      string             // the machine's boot id
	Up        int64              // µs since the machine was started; 0: not known
	Newest    map[string]Sample  // the newest value of every gauge that is open and has sent one
	Sweep     *Sweep             // the sweep that runs; nil where none does
	Coming    *Coming            // how the gauge comes to the height at which a wheel is read; nil where none is watched
	Armed     map[string]Arming  // gauges whose next press is their zero
	LastTake  int64              // when the last reading was safe; 0 where there was none
	Lockout   int64              // µs that a gauge's own key is ignored after a reading
	CameAt    int64              // when the step was come to; 0 where it was not since the bench began
	ReadAt    int64              // when the pedal said that its cautions were read; 0 where it did not
	Profiles  map[string]Manners // the profiles there are
	Keys      map[string]string  // key of a pedal or gauge → verb
}

// Sample is a value as a gauge sent it.
type Sample struct {
	At       int64
	Value    quantity.Value // not valid where the frame carries none
	Channel  string
	Key      string // a pedal or key of the line in place of a value
	Text     string // the frame as shown
	Status   string // what the gauge said of itself
	Reversed bool   // its sense was turned round
	Frame    []byte // verbatim
	// Unconfirmed is set where a second frame has yet to agree: it is shown and not taken.
	Unconfirmed bool
}

// Manners is what the rules need to know of a profile.
type Manners struct {
	Poll     int64    // µs between two questions to a gauge that is asked; 0 where it speaks by itself
	Channels []string // that its lines carry; empty for one, or where the profile leaves them open
	// Units are the units that the profile takes where the frames of a channel name none; "" is the only channel.
	Units map[string]string
	Text  string // the profile word for word, to be sealed with a gauge that is decoded by it
}

// Arming is a zero that waits for its gauge's own data key.
type Arming struct {
	Verb Verb
	At   int64
}

// Event is something that happens at a bench and may lead to entries: a Verb, a Heard, a Linked, a Tick, a Turned or a
// Computed.
type Event interface{ event() }

// Heard is a value of a gauge's line. Rested is set where Stillness finds that the gauge came to rest at a new place.
type Heard struct {
	Gauge  string
	Sample Sample
	Rested bool
}

// Linked is a line that came (Up) or went; Why says why it went.
type Linked struct {
	Gauge  string
	Up     bool
	Port   string
	Device string
	Why    string
}

// Turned is a sweep that ends by itself, and why.
type Turned struct{ Why string }

// Tick is time that passed.
type Tick struct{}

// Computed is new results.
type Computed struct{ Results []Result }

func (Verb) event()     {}
func (Heard) event()    {}
func (Linked) event()   {}
func (Turned) event()   {}
func (Tick) event()     {}
func (Computed) event() {}

// Decision is what comes of an event. The zero Decision is "nothing". Ids, numbers and times of the entries are given by
// whoever makes them.
type Decision struct {
	Entries []Entry // to be made in this order, each once the one before is safe
	Words   string  // what was done; true once the entries are in the ledger, at once where there are none
	Tone    string  // to be heard with the words: taken, zero, datum, sweep, ask, fault, refused
	Done    uint64  // this verb was done before, as the entry of this number
	Arm     string  // this gauge's next press is its zero
	Disarm  string  // it is not any more
	Begin   *Sweep  // this sweep runs from now on
	End     bool    // the sweep that runs is over
	Collect bool    // this value belongs to the sweep that runs
}

// ErrMoved is wrapped where a verb is refused because the bench stands elsewhere than its sender saw.
var ErrMoved = errors.New("the bench has moved on")

// make1 is a decision of one entry.
func make1(e Entry, words string) (Decision, error) {
	return Decision{Entries: []Entry{e}, Words: words}, nil
}

func refuse(words string) (Decision, error) { return Decision{}, errors.New(words) }

// current gives the build and step the bench stands at. nil where there is none.
func (sc Scene) current() (*Build, *plan.Step) { return sc.State.Current() }
