package capture

import (
	"errors"
	"fmt"
	"slices"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// stepVerb confirms, acknowledges, signs, reopens, overrides, and keeps the tally of the step at hand.
func (l *Loop) stepVerb(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil {
		return nil, "", errors.New("the bench stands at no step")
	}
	if b.Closed {
		return nil, "", fmt.Errorf("job %s is closed", b.Job)
	}
	place := bench.Place{Build: b.Job, Step: step.ID}
	if v.Place != nil && v.Place.Step != "" {
		other, ok := b.Plan.Step(v.Place.Step)
		if !ok {
			return nil, "", fmt.Errorf("no step %q in the plan", v.Place.Step)
		}
		step, place.Step = &other, other.ID
	}
	one := func(e bench.Entry) []draft {
		e.Place, e.By, e.Reason = place, v.By, v.Reason
		return []draft{func(bench.State) *bench.Entry { return &e }}
	}
	switch v.Name {
	case bench.DoConfirm:
		return l.confirm(b, *step, v, one)
	case bench.DoAcknowledge:
		return one(bench.Entry{Kind: bench.Acknowledged}), "cautions of " + step.Title + " acknowledged", nil
	case bench.DoSign:
		return l.sign(b, *step, v, one)
	case bench.DoReopen:
		if b.Step(step.ID).Signed == nil {
			return nil, "", fmt.Errorf("%s is not signed", step.Title)
		}
		if v.Reason == "" {
			return nil, "", errors.New("a signed step is reopened only with a reason")
		}
		return one(bench.Entry{Kind: bench.Reopened}), step.Title + " is open again", nil
	case bench.DoOverride:
		if v.Override == nil || v.Reason == "" {
			return nil, "", errors.New("an override wants a reason: it is kept and printed")
		}
		if err := checkOverride(b, *v.Override); err != nil {
			return nil, "", err
		}
		return one(bench.Entry{Kind: bench.Overridden, Override: v.Override}), fmt.Sprintf("%s %s overridden: %s", v.Override.What, v.Override.Name, v.Reason), nil
	case bench.DoTallyIn, bench.DoTallyOut:
		return l.tallyVerb(b, *step, v, one)
	case bench.DoDropped:
		if v.Item == "" {
			return nil, "", errors.New("say what was dropped")
		}
		return one(bench.Entry{Kind: bench.Dropped, Item: v.Item}), "the build is held until it is found: " + v.Item, nil
	case bench.DoFound:
		if b.Dropped == "" {
			return nil, "", errors.New("nothing is missing")
		}
		return one(bench.Entry{Kind: bench.Found, Item: b.Dropped, Count: 1}), b.Dropped + " is found", nil
	case bench.DoPhoto:
		if v.Picture == nil || len(v.Picture.Bytes) == 0 || len(v.Picture.Bytes) > 512<<10 {
			return nil, "", errors.New("a photo wants a picture of at most 512 kB")
		}
		return one(bench.Entry{Kind: bench.Photo, Picture: v.Picture}), "photo pinned to " + step.Title, nil
	}
	return nil, "", fmt.Errorf("the bench knows no %q", v.Name)
}

func (l *Loop) confirm(b *bench.Build, step plan.Step, v bench.Verb, one func(bench.Entry) []draft) ([]draft, string, error) {
	if why := bench.Hindrance(b, step, l.Results()); why != "" {
		return nil, "", errors.New(why)
	}
	open := bench.ToConfirm(b, step)
	if v.Item == "" && len(open) > 0 {
		v.Item = open[0]
	}
	if v.Item == "all" {
		var ds []draft
		for _, id := range open {
			ds = append(ds, one(bench.Entry{Kind: bench.Confirmed, Item: id})...)
		}
		if len(ds) == 0 {
			return nil, "", fmt.Errorf("nothing is left to confirm in %s", step.Title)
		}
		return ds, fmt.Sprintf("%d confirmed", len(ds)), nil
	}
	if !slices.Contains(open, v.Item) {
		return nil, "", fmt.Errorf("%q is not among what is to be confirmed in %s: %v", v.Item, step.Title, open)
	}
	return one(bench.Entry{Kind: bench.Confirmed, Item: v.Item}), v.Item + " confirmed", nil
}

func (l *Loop) sign(b *bench.Build, step plan.Step, v bench.Verb, one func(bench.Entry) []draft) ([]draft, string, error) {
	if v.Initials == "" {
		return nil, "", errors.New("a step is signed with initials")
	}
	switch p := bench.ProgressOf(b, step, l.Results()); p {
	case bench.Done:
	case bench.SignedOff:
		return nil, "", fmt.Errorf("%s is signed already", step.Title)
	default:
		return nil, "", fmt.Errorf("%s is not done (%s), so it cannot be signed; measure again, or override the verdict with a reason", step.Title, p)
	}
	return one(bench.Entry{Kind: bench.Signed, Initials: v.Initials}), step.Title + " signed " + v.Initials, nil
}

func checkOverride(b *bench.Build, o bench.Override) error {
	switch o.What {
	case "engine":
		d, ok := b.Plan.Datum(o.Name)
		if !ok {
			return fmt.Errorf("no engine data %q in the plan", o.Name)
		}
		if o.Value == nil || o.Value.Kind() != d.Kind {
			return fmt.Errorf("%s is a %s: give a value of that kind", o.Name, d.Kind)
		}
	case "needs", "hold", "verdict", "limit":
	case "tally":
		if !slices.ContainsFunc(b.Inside(), func(t bench.TallyItem) bool { return t.Name == o.Name }) {
			return fmt.Errorf("%q is not in the engine", o.Name)
		}
	default:
		return fmt.Errorf("%q cannot be overridden: want engine, limit, needs, hold, verdict or tally", o.What)
	}
	return nil
}

func (l *Loop) tallyVerb(b *bench.Build, step plan.Step, v bench.Verb, one func(bench.Entry) []draft) ([]draft, string, error) {
	if v.Name == bench.DoTallyIn {
		if why := bench.Hindrance(b, step, l.Results()); why != "" {
			return nil, "", errors.New(why)
		}
		for _, it := range step.Items {
			if it.Name == v.Item {
				return one(bench.Entry{Kind: bench.TallyIn, Item: it.Name, Count: it.Count}), fmt.Sprintf("in the engine: %s (%d)", it.Name, it.Count), nil
			}
		}
		return nil, "", fmt.Errorf("%q does not go in at %s", v.Item, step.Title)
	}
	for _, t := range b.Inside() {
		if t.Name != v.Item {
			continue
		}
		if until, ok := b.Plan.Step(t.KeepUntil); ok && t.KeepUntil != "" && !slices.ContainsFunc(b.Overrides, func(o bench.OverrideMade) bool { return o.What == "tally" && o.Name == t.Name }) {
			switch bench.ProgressOf(b, until, l.Results()) {
			case bench.Done, bench.SignedOff:
			default:
				return nil, "", fmt.Errorf("%s must stay in until %s is done", t.Name, until.Title)
			}
		}
		if v.Count != 0 && v.Count != t.Count {
			return nil, "", fmt.Errorf("%d pieces of %s went in, %d counted: find the rest", t.Count, t.Name, v.Count)
		}
		return one(bench.Entry{Kind: bench.TallyOut, Item: t.Name, Count: t.Count}), fmt.Sprintf("out of the engine, whole: %s (%d)", t.Name, t.Count), nil
	}
	return nil, "", fmt.Errorf("%q is not in the engine", v.Item)
}
