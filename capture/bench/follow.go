package bench

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Follow says what comes by itself once an entry is safe: the questions that guards ask about a reading, one after the
// other, and the end of a pass that is full and about which nothing is asked any more. The zero Entry asks for what is
// due without any. sc is the scene after the entry.
func Follow(sc Scene, e Entry) []Entry {
	switch e.Kind {
	case ReadingTaken:
		if e.By == byAnswer {
			return nil // it is what the answer says; the answer comes next
		}
		return followReading(sc, e.Place, e.ID)
	case Asked:
		return followReading(sc, e.Place, e.Refers)
	case Answered, ZeroSet, StepEntered, PlanChanged, "":
		return endOfPass(sc.State)
	}
	return nil
}

// Unfinished is the entry that Follow is to be asked about at start: the last one, where it was a reading or a question
// about it, else the zero Entry. A service that was stopped or killed between the entries of one reading makes up for it.
func Unfinished(s State) Entry {
	b, step := s.Current()
	if b == nil || step == nil || b.Closed {
		return Entry{}
	}
	st := b.Step(step.ID)
	p := st.Pass(s.Place.Pass)
	if p == nil || len(p.Readings) == 0 {
		return Entry{}
	}
	last := p.Readings[len(p.Readings)-1]
	after := uint64(0)
	for _, q := range st.Questions {
		if q.Reading == last.ID {
			after++
		}
	}
	if last.N+after != s.N {
		return Entry{} // something else came after the reading: what there was to ask is asked
	}
	return Entry{Kind: ReadingTaken, ID: last.ID, By: last.By,
		Place: Place{Build: b.Job, Step: step.ID, Pass: p.Number, Point: last.Point, Seating: last.Seating}}
}

// followReading asks the next question about a reading, or ends its pass.
func followReading(sc Scene, at Place, id string) []Entry {
	b, ok := sc.State.Build(at.Build)
	if !ok {
		return nil
	}
	step, ok := b.Plan.Step(at.Step)
	if !ok {
		return nil
	}
	st := b.Step(step.ID)
	r, p := findReading(st, id)
	if p == nil {
		return nil
	}
	for _, q := range questions(sc.State, b, step, p, r) {
		if !askedAlready(st, q, p.Number, r.ID) {
			return []Entry{{Kind: Asked, Place: at, By: byBench, Refers: r.ID, Question: q}}
		}
	}
	return endOfPass(sc.State)
}

// questions are what the guards ask about a reading. About a closing rest on the datum only the pass as a whole is asked.
func questions(s State, b *Build, step plan.Step, p *Pass, r Taken) []*Question {
	var out []*Question
	add := func(q *Question) {
		if q != nil {
			out = append(out, q)
		}
	}
	if r.Point != DatumPoint {
		pt, _ := step.Point(r.Point)
		g, _ := s.Gauge(r.Gauge)
		add(Implausible(pt, r.Value))
		add(Unstable(&r.Reading))
		add(BeyondTravel(g, &r.Reading))
		add(WrongRole(g, &r.Reading, step.Reader(r.Point)))
		add(OtherUnit(b.Plan.Cylinders, step, p, r))
		add(AgainstStops(step, p, r))
	}
	add(swapped(b, step, p))
	return out
}

// askedAlready reports whether a question stands open about the same reading, or, for one about a whole pass, about it.
func askedAlready(st *StepState, q *Question, pass int, reading string) bool {
	for _, o := range st.Questions {
		if o.Guard == q.Guard && o.Pass == pass && (o.Reading == reading || o.Guard == guardSwap) {
			return true
		}
	}
	return false
}

// endOfPass closes the pass the bench stands in once nothing is missing and nothing is asked: at once, or by the closing
// reading on the datum with the drift judged.
func endOfPass(s State) []Entry {
	b, step := s.Current()
	if b == nil || step == nil {
		return nil
	}
	st := b.Step(step.ID)
	p := st.Pass(s.Place.Pass)
	if p == nil || p.Status != PassIsFull {
		return nil
	}
	for _, q := range st.Questions {
		if q.Pass == p.Number {
			return nil
		}
	}
	place := Place{Build: b.Job, Step: step.ID, Pass: p.Number}
	if step.Datum == nil || !step.Datum.Close {
		return []Entry{{Kind: PassClosed, Place: place, By: byBench}}
	}
	rest, ok := p.Standing(DatumPoint, 1)
	if !ok || rest.N < newestStanding(p) {
		return nil // what was read after the closing reading is not vouched for by it
	}
	return []Entry{judgeDrift(s, b, *step, rest, place)}
}

func newestStanding(p *Pass) uint64 {
	newest := uint64(0)
	for _, r := range p.Readings {
		if !r.Withdrawn {
			newest = max(newest, r.N)
		}
	}
	return newest
}

// judgeDrift closes a pass where the datum reads what it did, and voids it where the gauge has wandered too far.
func judgeDrift(s State, b *Build, step plan.Step, rest Taken, place Place) Entry {
	shows := DatumSize(b, step)
	if g, ok := s.Gauge(rest.Gauge); ok {
		if z, _ := ZeroAt(g, step, Place{Build: b.Job, Step: step.ID, Pass: place.Pass, Point: DatumPoint}); z != nil {
			shows = z.Shows
		}
	}
	drift, err := rest.Value.Sub(shows)
	if err != nil {
		return Entry{Kind: PassVoid, Place: place, By: byBench, Reason: "the closing reading is of another kind than the zero: " + err.Error()}
	}
	allowed := AllowedDrift(step, rest.Raw)
	d := &Drift{By: drift, Allowed: allowed}
	if math.Abs(drift.Float()) > allowed.Float() {
		return Entry{Kind: PassVoid, Place: place, By: byBench, Drift: d,
			Reason: fmt.Sprintf("the zero moved by %s, %s is allowed: find what moved, set zero and read the pass again", drift, allowed)}
	}
	return Entry{Kind: PassClosed, Place: place, By: byBench, Drift: d}
}

// AllowedDrift is how far a gauge may have wandered when a pass is closed: what the step says, or 10 % of the narrowest
// tolerance of its lengths, and never less than two counts of the gauge. like gives its kind, unit and places.
func AllowedDrift(step plan.Step, like quantity.Value) quantity.Value {
	allowed := max(driftWanted(step), 2*like.Resolution())
	if like.Kind() == quantity.Length {
		return quantity.OfLength(int64(math.Round(allowed*quantity.PerMillimetre)), like.Unit, like.Places)
	}
	v, err := quantity.Make(int64(math.Round(like.Unit.FromBase(allowed)*math.Pow10(like.Places))), like.Places, like.Unit)
	if err != nil {
		return quantity.Value{N: 0, Places: like.Places, Unit: like.Unit}
	}
	return v
}

// driftWanted is the drift that a step states, or a tenth of its narrowest tolerance, in the base unit; 0 where it has
// neither.
func driftWanted(step plan.Step) float64 {
	if d := step.Datum.Drift; d.Valid() {
		return d.Float()
	}
	if step.Compute == nil {
		return 0
	}
	narrowest := 0.0
	for _, lim := range step.Compute.Limits {
		width := 0.0
		switch {
		case lim.Lower != nil && lim.Upper != nil:
			width = *lim.Upper - *lim.Lower
		case lim.Upper != nil:
			width = math.Abs(*lim.Upper)
		default:
			continue
		}
		if narrowest == 0 || width/10 < narrowest {
			narrowest = width / 10
		}
	}
	return narrowest
}
