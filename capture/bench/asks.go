package bench

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/capture/plan"
)

// guardPlan marks a question that the plan itself puts, not a guard.
const guardPlan = "plan"

// openAsk is the first question of a step that is not answered yet.
func (b *Build) openAsk(step plan.Step) (plan.Ask, bool) {
	for _, a := range step.Asks {
		if b.Answers[a.ID].Choice == "" {
			return a, true
		}
	}
	return plan.Ask{}, false
}

// AskedNow lists what is asked at a step: what the plan asks first, then what the guards ask about readings.
func (b *Build) AskedNow(step plan.Step) []Open {
	var out []Open
	for _, a := range step.Asks {
		if b.Answers[a.ID].Choice == "" {
			out = append(out, Open{Question: Question{Guard: guardPlan, Words: a.Text, Choices: a.Choice}, ID: a.ID})
		}
	}
	return append(out, b.Step(step.ID).Questions...)
}

// asks reports whether a step puts a question.
func asks(s plan.Step, id string) bool {
	return slices.ContainsFunc(s.Asks, func(a plan.Ask) bool { return a.ID == id })
}

// unanswered lists, in words, the questions of other steps that decide something in this one and are not answered.
func (b *Build) unanswered(step plan.Step) []string {
	var out []string
	for _, id := range step.Awaits {
		if a, at, ok := b.Plan.Ask(id); ok && b.Answers[id].Choice == "" {
			out = append(out, fmt.Sprintf("%s, which asks: %s", at.Title, a.Text))
		}
	}
	return out
}

// answered keeps an answer to a question of the plan, and lets the plan stand as it says.
func (f Fold) answered(b *Build, at Place, e Entry, mark Mark) (Place, error) {
	answers := maps.Clone(b.Answers)
	if answers == nil {
		answers = map[string]Answering{}
	}
	answers[e.Item] = Answering{e.Choice, mark}
	b.Answers = answers
	p, err := f.parse(b.Started.Plan, b.Text, b.choices())
	if err != nil {
		return at, fmt.Errorf("its plan, with %s answered %q: %w", e.Item, e.Choice, err)
	}
	return b.stand(p, at), nil
}

// choices are the answers alone.
func (b *Build) choices() map[string]string {
	out := map[string]string{}
	for id, a := range b.Answers {
		out[id] = a.Choice
	}
	return out
}

// decidePlanAnswer answers a question of the plan: the first open one of the step, or the one named. What was answered
// before is answered otherwise only by name and with a reason.
func decidePlanAnswer(b *Build, step plan.Step, v Verb) (Decision, error) {
	a, open := b.openAsk(step)
	place := Place{Build: b.Job, Step: step.ID}
	if v.Item != "" && (!open || a.ID != v.Item) {
		named, at, ok := b.Plan.Ask(v.Item)
		if !ok {
			return Decision{}, errors.New("nothing is asked")
		}
		a, place.Step = named, at.ID
		open = b.Answers[a.ID].Choice == "" && at.ID == step.ID
	}
	was := b.Answers[a.ID].Choice
	switch {
	case a.ID == "":
		return Decision{}, errors.New("nothing is asked")
	case !slices.Contains(a.Choice, v.Choice):
		return Decision{}, fmt.Errorf("%q is no answer to it: want %s", v.Choice, strings.Join(a.Choice, ", "))
	case was == "" && !open:
		return Decision{}, fmt.Errorf("%s is asked at another step: go there first", a.ID)
	case was == v.Choice:
		return Decision{}, fmt.Errorf("%s is answered %q already", a.ID, was)
	case was != "" && v.Reason == "":
		return Decision{}, fmt.Errorf("%s is answered %q; it is answered otherwise only with a reason: it is kept and printed", a.ID, was)
	}
	return make1(asked(v, Entry{Kind: Answered, Place: place, Item: a.ID, Choice: v.Choice, Reason: v.Reason}), fmt.Sprintf("%s Answered: %s", a.Text, a.Words(v.Choice)))
}
