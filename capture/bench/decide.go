package bench

import (
	"fmt"
	"slices"
	"strings"
)

// Decide says what comes of an event: the entries to make, or a refusal in words for the person who asked. It is pure,
// and it is the only place where it is judged what may happen at a bench; Apply takes what was decided as it stands.
func Decide(sc Scene, ev Event) (Decision, error) {
	switch ev := ev.(type) {
	case Verb:
		return decideVerb(sc, ev)
	case Heard:
		return decideHeard(sc, ev)
	case Linked:
		return decideLinked(sc, ev)
	case Turned:
		return endSweep(sc, Verb{Name: DoSweep, By: byBench}, ev.Why)
	case Tick:
		return decideTick(sc)
	case Computed:
		return reopenings(sc.State, ev.Results), nil
	}
	return Decision{}, fmt.Errorf("the bench knows no event %T", ev)
}

// Who made an entry, where no person did.
const (
	byBench  = "bench"
	byGauge  = "gauge"
	bySettle = "settle"
	byAnswer = "answer"
)

// decideVerb answers a verb: one that was done before is not done again, one whose sender saw another place is refused.
func decideVerb(sc Scene, v Verb) (Decision, error) {
	row, ok := VerbOf(v.Name)
	if !ok {
		return refuse(fmt.Sprintf("the bench knows no %q", v.Name))
	}
	if n, ok := sc.State.Did(v.ID); ok && v.ID != "" {
		return Decision{Done: n, Words: fmt.Sprintf("done before, as entry %d", n)}, nil
	}
	if v.Seen != nil && *v.Seen != sc.State.Place && row.Placed {
		return Decision{}, fmt.Errorf("%w: it stands at %s now, not at %s; nothing was done", ErrMoved, sc.State.Place, *v.Seen)
	}
	return row.decide(sc, v)
}

// ByPedal is who made an entry that a pedal asked for, or a key of a line.
const ByPedal = "pedal"

// asked marks an entry as what the verb asked for: asked again, it is known to be done. Entries that only make ready for
// it are not marked: a verb that was cut off after them, and is asked again, must not be taken for done.
func asked(v Verb, e Entry) Entry {
	e.Verb, e.By = v.ID, v.By
	return e
}

// decideTick ends what has waited too long: a gauge armed for its zero waits no longer than a minute, so that a later
// press is not taken for it.
func decideTick(sc Scene) (Decision, error) {
	for name, a := range sc.Armed {
		if sc.Now-a.At > armedFor {
			return Decision{Disarm: name, Words: "no zero was given to " + name + " within a minute: ask for it again"}, nil
		}
	}
	return Decision{}, nil
}

const armedFor = int64(60_000_000) // µs

// reopenings open signed steps again whose figures changed since, with the reason.
func reopenings(s State, results []Result) Decision {
	d := Decision{Tone: ToneAsk}
	var words []string
	for _, r := range results {
		b, ok := s.Build(r.Build)
		if !ok || r.Because == "" {
			continue
		}
		if signed := b.Step(r.Step).Signed; signed == nil || signed.N > r.N {
			continue
		}
		if slices.ContainsFunc(d.Entries, func(e Entry) bool { return e.Place.Build == r.Build && e.Place.Step == r.Step }) {
			continue // by another of its figures
		}
		d.Entries = append(d.Entries, reopenIfSigned(b, r.Step, r.Because)...)
		words = append(words, fmt.Sprintf("%s is reopened: %s", titleOf(b, r.Step), r.Because))
	}
	if len(words) == 0 {
		return Decision{}
	}
	d.Words = strings.Join(words, "; ")
	return d
}

// reopenIfSigned opens a signed step again.
func reopenIfSigned(b *Build, step, why string) []Entry {
	if b.Step(step).Signed == nil {
		return nil
	}
	return []Entry{{Kind: Reopened, Place: Place{Build: b.Job, Step: step}, By: byBench, Reason: why}}
}
