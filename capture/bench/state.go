package bench

import (
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// State is what the entries so far amount to. It is immutable: Apply returns a new one and shares what did not change,
// so a State may be handed to any reader. The zero State is a bench on which nothing has happened.
type State struct {
	Bench  string
	N      uint64 // of the last entry
	Place  Place  // where the bench stands
	Gauges []GaugeState
	Rules  *RulesInForce // named last; nil where none was
	Key    string        // of notes, named last
	Index  []BuildRow    // every build there ever was, in the order they were started
	Builds []*Build      // those in memory, in the same order: see Parts
	// Recorded lists every engine that has a record, the one touched last at the end; Engines are the records in memory.
	Recorded []EngineRow
	Engines  []*Engine
	Lives    []EngineLife // engines of which hours or regular work were told, by name
	Fitted   []PartLife   // parts that have a mark, by it
	Verbs    Verbs        // done lately
}

// GaugeState is a gauge and how it stands.
type GaugeState struct {
	Gauge
	Open   bool
	Port   string // where it is open now
	Device string
	Zero   *ZeroInForce
	// Points are the zeros that count for a point, or for one of several gauges of a step.
	Points  []*ZeroInForce `json:",omitempty"`
	Lost    string         // why its zero was lost, until it is set again
	Checks  []Check        // newest last
	Rests   []quantity.Value
	Chosen  bool // reads where several of its role could
	Removed bool
}

// ZeroInForce is the datum a gauge's readings are taken against.
type ZeroInForce struct {
	ID    string
	N     uint64
	At    int64
	Boot  string
	Place Place
	Zero
}

// Build is one engine on the bench.
type Build struct {
	Started
	Plan      *plan.Plan
	Record    *Engine // of its engine, as it is, or was when the build was closed; nil where there is none
	At        int64
	N         uint64
	Last      uint64 // number of its last entry
	Stood     Place  // where the bench stood in it last: there it goes on when it comes back
	Closed    bool
	Steps     map[string]*StepState
	Overrides []OverrideMade
	Tally     []TallyItem
	Loose     []LooseThing
	Clocks    []Clock // times that run, or ran
	// Answers are what the plan's questions were answered with, by their ids; the plan stands as they say.
	Answers  map[string]Answering
	Dropped  string // what fell and is not found; "" nothing
	Pictures []PinnedPicture
	Changes  []PlanChange // of the plan, in mid-build
}

// StepState is how a step of a build stands.
type StepState struct {
	Entered      bool
	Passes       []*Pass
	Confirmed    map[string]Mark // by confirmation id; engine data as "engine.NAME"
	Acknowledged bool
	Signed       *Mark
	Reopened     []Mark // newest last
	Questions    []Open
}

// Answering is what a question of the plan was answered with.
type Answering struct {
	Choice string
	Mark
}

// Mark is who did something when, and why.
type Mark struct {
	By     string
	At     int64
	N      uint64
	Reason string
}

// OverrideMade is an override with its reason.
type OverrideMade struct {
	Override
	Mark
	Step string
}

// TallyItem is a temporary thing in the engine.
type TallyItem struct {
	plan.Item
	Step string // that put it in
	In   Mark
	Out  *Mark
}

// LooseThing is a fastener not yet made fast.
type LooseThing struct {
	plan.Loose
	Step  string
	Since Mark
}

// PinnedPicture is a photo's entry.
type PinnedPicture struct {
	ID, Step, Note string
	N              uint64
}

// PassStatus is how a pass stands.
type PassStatus string

// Open while points are missing; full once every point is read; closed once the datum was read again, or at once
// where the step asks for none; void with a reason.
const (
	PassIsOpen   PassStatus = "open"
	PassIsFull   PassStatus = "full"
	PassIsClosed PassStatus = "closed"
	PassIsVoid   PassStatus = "void"
)

// Pass is one set of readings over a step's points.
type Pass struct {
	Number   int
	Status   PassStatus
	Opened   Mark
	Ended    Mark
	Drift    *Drift
	Readings []Taken // in the order taken, withdrawn ones too
}

// Taken is a reading in its place.
type Taken struct {
	Reading
	ID        string
	N         uint64
	At        int64
	Point     string
	Seating   int
	By        string
	Withdrawn bool
}

// Open is a question not yet answered.
type Open struct {
	Question
	ID      string
	Reading string // id of the reading it is about
	Pass    int
}

// Gauge finds a gauge in the register.
func (s State) Gauge(name string) (GaugeState, bool) {
	for _, g := range s.Gauges {
		if g.Name == name && !g.Removed {
			return g, true
		}
	}
	return GaugeState{}, false
}

// GaugesFor lists the gauges that could read for a role ("" for any that measures), and picks the one that does: the one
// chosen by hand, or the only one, or the only one that is open. pick is −1 where several could be meant, or none.
func (s State) GaugesFor(role string) (all []GaugeState, pick int) {
	open := []int{}
	for _, g := range s.Gauges {
		if g.Removed || role != "" && g.Role != role || role == "" && g.Role == "key" {
			continue
		}
		if g.Chosen && role != "" {
			return []GaugeState{g}, 0
		}
		if g.Open {
			open = append(open, len(all))
		}
		all = append(all, g)
	}
	switch {
	case len(all) == 1:
		return all, 0
	case len(open) == 1:
		return all, open[0]
	}
	return all, -1
}

// Build finds a build that is in memory by its job number.
func (s State) Build(job string) (*Build, bool) {
	for _, b := range s.Builds {
		if b.Job == job {
			return b, true
		}
	}
	return nil, false
}

// Current gives the build and step the bench stands at; nil where there is none.
func (s State) Current() (*Build, *plan.Step) {
	b, ok := s.Build(s.Place.Build)
	if !ok || b.Plan == nil {
		return nil, nil
	}
	st, ok := b.Plan.Step(s.Place.Step)
	if !ok {
		return b, nil
	}
	return b, &st
}

// Step gives a step's state; never nil.
func (b *Build) Step(id string) *StepState {
	if st, ok := b.Steps[id]; ok {
		return st
	}
	return &StepState{}
}

// Pass gives a pass by number; nil where there is none.
func (s *StepState) Pass(n int) *Pass {
	for _, p := range s.Passes {
		if p.Number == n {
			return p
		}
	}
	return nil
}

// Last gives the newest pass that is not void; nil where there is none.
func (s *StepState) Last() *Pass {
	for i := len(s.Passes) - 1; i >= 0; i-- {
		if s.Passes[i].Status != PassIsVoid {
			return s.Passes[i]
		}
	}
	return nil
}

// InForce gives the last closed pass: what later steps use.
func (s *StepState) InForce() *Pass {
	for i := len(s.Passes) - 1; i >= 0; i-- {
		if s.Passes[i].Status == PassIsClosed {
			return s.Passes[i]
		}
	}
	return nil
}

// Standing gives the last reading of a point and seating that was not withdrawn.
func (p *Pass) Standing(point string, seating int) (Taken, bool) {
	for i := len(p.Readings) - 1; i >= 0; i-- {
		// By pointer: this is the innermost loop of every fold, and a reading is large.
		if r := &p.Readings[i]; r.Point == point && r.Seating == seating && !r.Withdrawn {
			return *r, true
		}
	}
	return Taken{}, false
}

// StandingAll gives a point's standing readings, one a seating, in order.
func (p *Pass) StandingAll(point string, seatings int) []Taken {
	var out []Taken
	for k := 1; k <= max(seatings, 1); k++ {
		if r, ok := p.Standing(point, k); ok {
			out = append(out, r)
		}
	}
	return out
}

// StandingAt gives the standing readings of a point as this pass sees them: its own, or, for a point that is read once,
// those of the newest earlier pass that is not void.
func (s *StepState) StandingAt(pass int, pt plan.Point, seatings int) []Taken {
	if p := s.Pass(pass); p != nil {
		if own := p.StandingAll(pt.ID, seatings); len(own) > 0 {
			return own
		}
	}
	if !pt.Once {
		return nil
	}
	for i := len(s.Passes) - 1; i >= 0; i-- {
		q := s.Passes[i]
		if q.Number < pass && q.Status != PassIsVoid {
			if own := q.StandingAll(pt.ID, seatings); len(own) > 0 {
				return own
			}
		}
	}
	return nil
}

// Missing gives the first point and seating of a pass with no standing reading, searching from just after a place and
// round again; ok is false where the pass is full.
func (s *StepState) Missing(step plan.Step, pass int, after Place) (point string, seating int, ok bool) {
	n := len(step.Points)
	wanted := func(i int) (*plan.Point, int, bool) { // the spots in order: every point of the first seating, then of the next
		pt := &step.Points[i%n]
		return pt, i/n + 1, max(pt.FromPass, 1) <= pass
	}
	spots, from := n*max(step.Seatings, 1), 0
	for i := range spots {
		if pt, k, ok := wanted(i); ok && pt.ID == after.Point && k == max(after.Seating, 1) {
			from = i + 1
		}
	}
	for i := range spots {
		if pt, k, ok := wanted((from + i) % spots); ok && !s.has(step, pass, pt, k) {
			return pt.ID, k, true
		}
	}
	return "", 0, false
}

func (s *StepState) has(step plan.Step, pass int, pt *plan.Point, seating int) bool {
	if p := s.Pass(pass); p != nil {
		if _, ok := p.Standing(pt.ID, seating); ok {
			return true
		}
	}
	return pt.Once && len(s.StandingAt(pass, *pt, step.Seatings)) >= seating
}
