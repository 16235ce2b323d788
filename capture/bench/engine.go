package bench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// The record of an engine: its values belong to the engine, not to a build, and go with it from build to build. An entry
// says which values were kept, by whom and from where; the record is what those entries fold to. A build sees the record
// as it was at the build's own closing entry, so that what is closed never changes.

// EngineSet is values kept of an engine: one press, one entry.
type EngineSet struct {
	Engine string        `json:"engine"`
	Values []EngineValue `json:"values"`
	Job    string        `json:"job,omitempty"`  // the build in which they were confirmed, or whose values they were
	From   string        `json:"from,omitempty"` // the engine they were copied from
	// Sure says that a value far from the one before it is meant. Only in a verb.
	Sure bool `json:"sure,omitempty"`
}

// EngineValue is one value of an engine: a quantity, a list of them, or a word.
type EngineValue struct {
	Name   string           `json:"name"`
	Value  *quantity.Value  `json:"value,omitempty"`
	List   []quantity.Value `json:"list,omitempty"`
	Word   string           `json:"word,omitempty"`
	U      *quantity.Value  `json:"u,omitempty"` // stated standard uncertainty
	Source string           `json:"source,omitempty"`
	// Open is a value that nobody has confirmed for this engine yet: one copied from another.
	Open bool `json:"open,omitempty"`
	// Gone takes the value out of the record: what the plan says holds again.
	Gone bool `json:"gone,omitempty"`
	// Text is the value as a person typed it, to be read as what the engine's plans want. Only in a verb.
	Text string `json:"text,omitempty"`
	// Against is what the plan gave, or what followed from other values, when this value was confirmed; a difference from
	// it has been seen and is not asked about again.
	Against *Held `json:"against,omitempty"`
}

// Held is a value by itself.
type Held struct {
	Value *quantity.Value  `json:"value,omitempty"`
	List  []quantity.Value `json:"list,omitempty"`
	Word  string           `json:"word,omitempty"`
}

// Engine is the record of one engine. Immutable.
type Engine struct {
	Name   string
	N      uint64          // of the last entry about it
	Values []RecordedValue // by name
}

// RecordedValue is a value in the record, who kept it and when.
type RecordedValue struct {
	EngineValue
	Mark
	Job, From string
}

// EngineRow is what is always known of an engine's record, in memory or not.
type EngineRow struct {
	Name string `json:"name"`
	N    uint64 `json:"n"` // of the last entry about it
	At   int64  `json:"at"`
}

// Value finds a value of the record; a nil record has none.
func (g *Engine) Value(name string) (RecordedValue, bool) {
	if g == nil {
		return RecordedValue{}, false
	}
	i, ok := slices.BinarySearchFunc(g.Values, name, func(v RecordedValue, name string) int { return strings.Compare(v.Name, name) })
	if !ok {
		return RecordedValue{}, false
	}
	return g.Values[i], true
}

// with is the record after an entry.
func (g *Engine) with(e Entry) *Engine {
	next := &Engine{Name: e.Engine.Engine, N: e.N}
	if g != nil {
		next.Values = slices.Clone(g.Values)
	}
	mark := Mark{By: e.By, At: e.At, N: e.N, Reason: e.Reason}
	if e.Initials != "" {
		mark.By = e.Initials
	}
	for _, v := range e.Engine.Values {
		i, ok := slices.BinarySearchFunc(next.Values, v.Name, func(v RecordedValue, name string) int { return strings.Compare(v.Name, name) })
		if ok {
			next.Values = slices.Delete(next.Values, i, i+1)
		}
		if !v.Gone {
			next.Values = slices.Insert(next.Values, i, RecordedValue{v, mark, e.Engine.Job, e.Engine.From})
		}
	}
	return next
}

// Record finds the record of an engine that is in memory.
func (s State) Record(engine string) (*Engine, bool) {
	for _, g := range s.Engines {
		if g.Name == engine {
			return g, true
		}
	}
	return nil, false
}

// KnownEngine finds an engine that has a record, in memory or not.
func (s State) KnownEngine(engine string) (EngineRow, bool) {
	for _, r := range s.Recorded {
		if r.Name == engine {
			return r, true
		}
	}
	return EngineRow{}, false
}

// engineSet folds values kept of an engine into its record, and hands the record to its builds that are open.
func engineSet(s State, e Entry) (State, error) {
	if e.Engine == nil || e.Engine.Engine == "" {
		return s, errors.New("no engine in it")
	}
	old, in := s.Record(e.Engine.Engine)
	if row, known := s.KnownEngine(e.Engine.Engine); known && !in {
		return s, fmt.Errorf("the record of %q, of entry %d, is not in memory: a fault of the program", row.Name, row.N)
	}
	now := old.with(e)
	s.Engines = slices.DeleteFunc(slices.Clone(s.Engines), func(g *Engine) bool { return g.Name == now.Name })
	s.Engines = append(s.Engines, now) // the one touched last at the end
	s.Recorded = slices.DeleteFunc(slices.Clone(s.Recorded), func(r EngineRow) bool { return r.Name == now.Name })
	s.Recorded = append(s.Recorded, EngineRow{Name: now.Name, N: e.N, At: e.At})
	builds := slices.Clone(s.Builds)
	for i, b := range builds {
		if b.Engine == now.Name && !b.Closed {
			c := *b
			c.Record = now
			builds[i] = &c
		}
	}
	s.Builds = builds
	return s, nil
}

// OpenBuildsOf lists the builds of an engine that are open and in memory, in the order they were started.
func (s State) OpenBuildsOf(engine string) []*Build {
	var out []*Build
	for _, b := range s.Builds {
		if engine != "" && b.Engine == engine && !b.Closed {
			out = append(out, b)
		}
	}
	return out
}

// Datum gives engine data of a build: what the plan says, or what follows from other data; in its place what the engine's
// record holds; in place of both what was overridden for this build alone. Of data that the plan does not have, the
// record's own fields are given. Confirm says that it is still to be asked about.
func (b *Build) Datum(name string) (plan.Datum, bool) {
	d, ok := b.planned(name)
	if !ok {
		return b.recordField(name)
	}
	if v, kept := b.Record.Value(name); kept && v.fits(d) {
		d = v.of(d)
	} else if d.Confirm && b.marked(name) {
		d.Confirm = false
	}
	for _, o := range b.Overrides {
		if o.What == OverEngine && o.Name == name && o.Word != "" {
			d.Word, d.Source, d.Confirm = o.Word, "builder's choice: "+o.Reason, false
		}
		if o.What == OverEngine && o.Name == name && o.Value != nil {
			d.Value, d.List, d.Source, d.Confirm = *o.Value, nil, "builder's choice: "+o.Reason, false
		}
	}
	return d, true
}

// planned is engine data as the plan has it, derived anew where it follows from others.
func (b *Build) planned(name string) (plan.Datum, bool) {
	d, ok := b.Plan.Datum(name)
	if ok && d.Derived != "" {
		d = d.Derive(b.Datum)
	}
	return d, ok
}

// marked reports whether engine data was confirmed in a step of this build, without a record.
func (b *Build) marked(name string) bool {
	_, ok := b.markOf(name)
	return ok
}

func (b *Build) markOf(name string) (Mark, bool) {
	for _, st := range b.Steps {
		if m, ok := st.Confirmed["engine."+name]; ok {
			return m, true
		}
	}
	return Mark{}, false
}

// ConfirmedBy says who confirmed engine data, and when: in the record, or in a step of this build. false where nobody did
// or nobody had to.
func (b *Build) ConfirmedBy(name string) (Mark, bool) {
	d, _ := b.Plan.Datum(name)
	if v, ok := b.Record.Value(name); ok && !v.Open && v.fits(d) {
		return v.Mark, true
	}
	return b.markOf(name)
}

// fits reports whether a value of the record is of the kind that a plan wants: one of another kind is not taken for it.
func (v EngineValue) fits(d plan.Datum) bool {
	switch {
	case d.Word != "":
		return v.Word != "" && (len(d.Choice) == 0 || slices.Contains(d.Choice, v.Word))
	case d.List != nil:
		return len(v.List) > 0 && v.List[0].Kind() == d.Kind
	}
	return v.Value != nil && v.Value.Kind() == d.Kind
}

// of puts a value of the record in place of the plan's.
func (v EngineValue) of(d plan.Datum) plan.Datum {
	planned := heldOf(d)
	d.Word, d.List = v.Word, v.List
	if v.Value != nil {
		d.Value = *v.Value
	}
	if v.U != nil {
		d.U = *v.U
	}
	d.Source, d.Derived = v.Source, ""
	d.Confirm = v.Open || !v.held().same(planned) && (v.Against == nil || !v.Against.sameAs(planned, v.held()))
	return d
}

func (v EngineValue) held() Held { return Held{v.Value, v.List, v.Word} }

func heldOf(d plan.Datum) Held {
	switch {
	case d.Word != "":
		return Held{Word: d.Word}
	case d.List != nil:
		return Held{List: d.List}
	}
	v := d.Value
	return Held{Value: &v}
}

// same reports whether a value agrees with another within what it was itself rounded to. What follows from other values
// is written with as few digits as it has, so that its own last place says nothing.
func (h Held) same(o Held) bool { return h.sameAs(o, h) }

// equal reports whether two values are the same, however many digits either was written with.
func (h Held) equal(o Held) bool { return h.same(o) && o.same(h) }

// sameAs is same within what a third value was rounded to.
func (h Held) sameAs(o, like Held) bool {
	switch {
	case h.Word != o.Word, len(h.List) != len(o.List), (h.Value == nil) != (o.Value == nil):
		return false
	case h.Value != nil && !agrees(*h.Value, *o.Value, valueOr(like.Value)):
		return false
	}
	for i := range h.List {
		near := quantity.Value{}
		if i < len(like.List) {
			near = like.List[i]
		}
		if !agrees(h.List[i], o.List[i], near) {
			return false
		}
	}
	return true
}

// agrees reports whether two quantities differ by no more than half the last place of a third.
func agrees(a, b, like quantity.Value) bool {
	if a.Kind() != b.Kind() {
		return false
	}
	within := 0.0
	if like.Kind() == a.Kind() {
		within = 0.5 * like.Resolution()
	}
	return math.Abs(a.Float()-b.Float()) <= within*(1+1e-9)
}
