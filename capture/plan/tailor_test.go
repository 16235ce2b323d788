package plan_test

import (
	"strings"
	"testing"

	"thoud/capture/plan"
)

const tailored = `title = "A \"fine\" twin" # what it is
version = 1
cylinders = [
  "left", # as the rider sits
  "right",
] # two

[group.balance]
title = "Balance the crankshaft"
on = false

[[step]]
id = "bore"
for = "cylinder"
title = "Bore, {cylinder}"
do = "Read the bore."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "bore" }
[[step.point]]
id = "{cylinder}.top"

[[step]]
id = "balance"
when = { balance = true }
title = "Balance"
do = "Weigh it."
phase = "dry"
kind = "check"
confirms = [{ id = "done", text = "It is done." }]
`

// A plan is cut to another engine, and all else of its text stays.
func TestAPlanIsCutToAnotherEngine(t *testing.T) {
	out, err := plan.Tailor("mine", []byte(tailored), plan.Tailoring{Title: `My "old" triple`, Cylinders: []string{"left", "middle", "right"}, Choices: map[string]string{"balance": "yes"}})
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse("mine", out)
	if err != nil {
		t.Fatal(err)
	}
	if p.Title != `My "old" triple` || strings.Join(p.Cylinders, " ") != "left middle right" || len(p.Steps) != 4 {
		t.Errorf("%q, %v, %d steps", p.Title, p.Cylinders, len(p.Steps))
	}
	for _, kept := range []string{"# what it is", "# two", "[[step.point]]"} {
		if !strings.Contains(string(out), kept) {
			t.Errorf("%q is gone", kept)
		}
	}
	same, err := plan.Tailor("mine", []byte(tailored), plan.Tailoring{})
	if err != nil || string(same) != tailored {
		t.Errorf("cut to nothing it is changed: %v", err)
	}
}

func TestAPlanThatCantBeCut(t *testing.T) {
	for name, c := range map[string]struct {
		how  plan.Tailoring
		want string
	}{
		"no such group":     {plan.Tailoring{Choices: map[string]string{"balanc": "yes"}}, `did you mean "balance"?`},
		"no such choice":    {plan.Tailoring{Choices: map[string]string{"balance": "maybe"}}, `balance can't be "maybe"`},
		"a cylinder's name": {plan.Tailoring{Cylinders: []string{"Left One"}}, "lower-case letters"},
		"one name twice":    {plan.Tailoring{Cylinders: []string{"a", "a"}}, "twice"},
	} {
		if _, err := plan.Tailor("mine", []byte(tailored), c.how); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
}

// Every plan that ships can be called otherwise, and keeps its faultlessness.
func TestShippedPlansCanBeCut(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		text, err := plan.ShippedText(n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := plan.Tailor("mine", text, plan.Tailoring{Title: "Mine"}); err != nil {
			t.Errorf("%s: %v", n, err)
		}
	}
}
