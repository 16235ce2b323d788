package bench

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"thoud/capture/plan"
)

// atStep is a step that a verb is about: the one named, or the one at hand.
type atStep struct {
	b     *Build
	step  plan.Step
	place Place
}

func stepAsked(sc Scene, v Verb) (atStep, error) {
	b, step := sc.current()
	if b == nil || step == nil {
		return atStep{}, errors.New("the bench stands at no step")
	}
	if b.Closed {
		return atStep{}, fmt.Errorf("job %s is closed", b.Job)
	}
	at := atStep{b, *step, Place{Build: b.Job, Step: step.ID}}
	if v.Place != nil && v.Place.Step != "" {
		other, ok := b.Plan.Step(v.Place.Step)
		if !ok {
			return atStep{}, fmt.Errorf("no step %q in the plan", v.Place.Step)
		}
		at.step, at.place.Step = other, other.ID
	}
	return at, nil
}

// one is the decision of one entry about the step.
func (at atStep) one(v Verb, e Entry, words string) (Decision, error) {
	e.Place, e.Reason = at.place, v.Reason
	return make1(asked(v, e), words)
}

// aboutStep makes a rule about a step into one about a scene.
func aboutStep(rule func(Scene, atStep, Verb) (Decision, error)) func(Scene, Verb) (Decision, error) {
	return func(sc Scene, v Verb) (Decision, error) {
		at, err := stepAsked(sc, v)
		if err != nil {
			return Decision{}, err
		}
		return rule(sc, at, v)
	}
}

func decideAcknowledge(_ Scene, at atStep, v Verb) (Decision, error) {
	return at.one(v, Entry{Kind: Acknowledged}, "cautions of "+at.step.Title+" acknowledged")
}

func decideConfirm(sc Scene, at atStep, v Verb) (Decision, error) {
	if why := sc.hindrance(at.b, at.step); why != "" {
		return Decision{}, errors.New(why)
	}
	open := ToConfirm(at.b, at.step)
	if v.Item == "" && len(open) > 0 {
		v.Item = open[0]
	}
	if v.Item == "all" && len(open) > 0 {
		together := slices.DeleteFunc(slices.Clone(open), func(id string) bool { return askedAlone(at.step, id) })
		if len(together) == 0 {
			return Decision{}, fmt.Errorf("asked singly: confirm %s by itself", open[0])
		}
		d := Decision{Words: fmt.Sprintf("%d confirmed", len(together))}
		if e, ok := confirmedValues(at.b, together, v); ok {
			d.Entries = append(d.Entries, e)
		}
		for _, id := range together {
			if at.b.Engine != "" && strings.HasPrefix(id, engineItem) {
				continue
			}
			d.Entries = append(d.Entries, Entry{Kind: Confirmed, Place: at.place, By: v.By, Reason: v.Reason, Item: id})
		}
		d.Entries[len(d.Entries)-1].Verb = v.ID // cut off before it, the rest is still to be confirmed
		return d, nil
	}
	if len(open) == 0 {
		return Decision{}, fmt.Errorf("nothing is left to confirm in %s", at.step.Title)
	}
	if !slices.Contains(open, v.Item) {
		return Decision{}, fmt.Errorf("%q is not among what is to be confirmed in %s: %v", v.Item, at.step.Title, open)
	}
	if e, ok := confirmedValues(at.b, []string{v.Item}, v); ok {
		return make1(asked(v, e), confirmTitle(at, v.Item)+": confirmed, and kept in the record of "+at.b.Engine)
	}
	return at.one(v, Entry{Kind: Confirmed, Item: v.Item}, confirmTitle(at, v.Item)+": confirmed")
}

// engineItem begins the name of engine data among what is confirmed.
const engineItem = "engine."

// confirmedValues keeps the engine data among what is confirmed in the engine's record, as they stand; a build that names
// no engine has no record.
func confirmedValues(b *Build, ids []string, v Verb) (Entry, bool) {
	if b.Engine == "" {
		return Entry{}, false
	}
	set := EngineSet{Engine: b.Engine, Job: b.Job}
	for _, id := range ids {
		name, ok := strings.CutPrefix(id, engineItem)
		if !ok {
			continue
		}
		if d, ok := b.Datum(name); ok {
			set.Values = append(set.Values, b.valueOf(d))
		}
	}
	return Entry{Kind: EngineValues, Engine: &set, By: v.By, Reason: v.Reason, Initials: v.Initials}, len(set.Values) > 0
}

// valueOf is engine data as it stands, to be kept in the record.
func (b *Build) valueOf(d plan.Datum) EngineValue {
	h := heldOf(d)
	v := EngineValue{Name: d.Name, Value: h.Value, List: h.List, Word: h.Word, Source: d.Source}
	if d.U.Valid() {
		u := d.U
		v.U = &u
	}
	if p, ok := b.planned(d.Name); ok {
		was := heldOf(p)
		v.Against = &was
	}
	return v
}

// confirmTitle is what is confirmed, as people call it: the title of engine data, the sentence of the step.
func confirmTitle(at atStep, id string) string {
	if name, ok := strings.CutPrefix(id, engineItem); ok {
		if d, ok := at.b.Datum(name); ok && d.Title != "" {
			return d.Title
		}
	}
	for _, c := range at.step.Confirms {
		if c.ID == id {
			return strings.TrimSuffix(c.Text, ".")
		}
	}
	return id
}

// askedAlone reports whether a confirmation is asked singly.
func askedAlone(step plan.Step, id string) bool {
	return slices.ContainsFunc(step.Confirms, func(c plan.Confirm) bool { return c.ID == id && c.Alone })
}

func decideSign(sc Scene, at atStep, v Verb) (Decision, error) {
	if v.Initials == "" {
		return refuse("a step is signed with initials")
	}
	switch p := ProgressOf(at.b, at.step, sc.Results); {
	case signable(at.b, at.step, sc.Results):
	case p == SignedOff:
		return Decision{}, fmt.Errorf("%s is signed already", at.step.Title)
	default:
		return Decision{}, fmt.Errorf("%s is not done (%s), so it cannot be signed; measure again, or override the verdict with a reason", at.step.Title, p)
	}
	return at.one(v, Entry{Kind: Signed, Initials: v.Initials}, at.step.Title+" signed "+v.Initials)
}

func decideReopen(_ Scene, at atStep, v Verb) (Decision, error) {
	if at.b.Step(at.step.ID).Signed == nil {
		return Decision{}, fmt.Errorf("%s is not signed", at.step.Title)
	}
	if v.Reason == "" {
		return refuse("a signed step is reopened only with a reason")
	}
	return at.one(v, Entry{Kind: Reopened}, at.step.Title+" is open again")
}

func decideOverride(_ Scene, at atStep, v Verb) (Decision, error) {
	if v.Override == nil || v.Reason == "" {
		return refuse("an override wants a reason: it is kept and printed")
	}
	over := wordOrValue(at.b, *v.Override)
	words, err := checkOverride(at.b, over)
	if err != nil {
		return Decision{}, err
	}
	return at.one(v, Entry{Kind: Overridden, Override: &over}, fmt.Sprintf("overridden, %s: %s", v.Reason, words))
}

func decideDropped(_ Scene, at atStep, v Verb) (Decision, error) {
	if v.Item == "" {
		return refuse("say what was dropped")
	}
	return at.one(v, Entry{Kind: Dropped, Item: v.Item}, "the build is held until it is found: "+v.Item)
}

func decideFound(_ Scene, at atStep, v Verb) (Decision, error) {
	if at.b.Dropped == "" {
		return refuse("nothing is missing")
	}
	return at.one(v, Entry{Kind: Found, Item: at.b.Dropped, Count: 1}, at.b.Dropped+" is found")
}

func decidePhoto(_ Scene, at atStep, v Verb) (Decision, error) {
	if v.Picture == nil || len(v.Picture.Bytes) == 0 || len(v.Picture.Bytes) > mostPicture {
		return refuse("a photo wants a picture of at most 512 kB")
	}
	return at.one(v, Entry{Kind: Photo, Picture: v.Picture}, "photo pinned to "+at.step.Title)
}

func decideTallyIn(sc Scene, at atStep, v Verb) (Decision, error) {
	if why := sc.hindrance(at.b, at.step); why != "" {
		return Decision{}, errors.New(why)
	}
	for _, it := range at.step.Items {
		if it.Name == v.Item {
			return at.one(v, Entry{Kind: TallyIn, Item: it.Name, Count: it.Count}, fmt.Sprintf("in the engine: %s (%d)", plan.Called(it.Name), it.Count))
		}
	}
	return Decision{}, fmt.Errorf("%q does not go in at %s", v.Item, at.step.Title)
}

func decideTallyOut(sc Scene, at atStep, v Verb) (Decision, error) {
	for _, t := range at.b.Inside() {
		if t.Name != v.Item {
			continue
		}
		if until, ok := at.b.Plan.Step(t.KeepUntil); ok && !at.b.overridden(OverTally, t.Name) {
			if p := ProgressOf(at.b, until, sc.Results); !p.Settled() {
				return Decision{}, fmt.Errorf("%s must stay in until %s is done", plan.Called(t.Name), until.Title)
			}
		}
		if v.Count != 0 && v.Count != t.Count {
			return Decision{}, fmt.Errorf("%d pieces of %s went in, %d counted: find the rest", t.Count, plan.Called(t.Name), v.Count)
		}
		return at.one(v, Entry{Kind: TallyOut, Item: t.Name, Count: t.Count}, fmt.Sprintf("out of the engine, whole: %s (%d)", plan.Called(t.Name), t.Count))
	}
	return Decision{}, fmt.Errorf("%q is not in the engine", v.Item)
}
