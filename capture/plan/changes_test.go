package plan_test

import (
	"strings"
	"testing"

	"thoud/capture/plan"
)

const changing = `title = "Changing"
version = 1
cylinders = ["left", "right"]

[[step]]
id = "bore"
for = "cylinder"
title = "Bore, {cylinder}"
do = "Read the bore."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "bore" }
seatings = 3
[[step.point]]
id = "{cylinder}.top"

[[step]]
id = "look"
title = "Look"
do = "Look."
phase = "dry"
kind = "check"
needs = ["bore"]
confirms = [{ id = "looked", text = "It was looked at." }]
`

func changed(t *testing.T, text string, c plan.Change) (string, *plan.Plan) {
	t.Helper()
	out, err := plan.Changed("changing", []byte(text), c)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse("changing", out)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(out), text) {
		t.Error("the plan as it was does not stand first")
	}
	return string(out), p
}

func TestAStepIsLeftOutAndPutBack(t *testing.T) {
	text, p := changed(t, changing, plan.Change{Step: "bore-left", Why: `The "left" barrel is sold.`, LeaveOut: true})
	left, _ := p.Step("bore-left")
	right, _ := p.Step("bore-right")
	if left.LeftOut != `The "left" barrel is sold.` || right.LeftOut != "" || len(left.Points) != 1 {
		t.Errorf("left out: %q and %q, %d points", left.LeftOut, right.LeftOut, len(left.Points))
	}
	_, p = changed(t, text, plan.Change{Step: "bore-left", Why: "It came back.", PutBack: true})
	if left, _ = p.Step("bore-left"); left.LeftOut != "" {
		t.Errorf("still left out: %q", left.LeftOut)
	}
}

func TestAStepIsChangedByItsOwnKeys(t *testing.T) {
	text, p := changed(t, changing, plan.Change{Step: "bore-right", Why: "Tired.", Set: map[string]string{"seatings": "2", "do": `"Read it twice."`}})
	right, _ := p.Step("bore-right")
	left, _ := p.Step("bore-left")
	if right.Seatings != 2 || right.Do != "Read it twice." || left.Seatings != 3 {
		t.Errorf("right %d %q, left %d", right.Seatings, right.Do, left.Seatings)
	}
	if _, p = changed(t, text, plan.Change{Step: "bore-right", Why: "Once more.", Set: map[string]string{"seatings": "1"}}); p.Steps[1].Seatings != 1 || p.Steps[1].Do != "Read it twice." {
		t.Errorf("the later change does not stand over the earlier: %d, %q", p.Steps[1].Seatings, p.Steps[1].Do)
	}
}

func TestAStepIsAddedWhereItBelongs(t *testing.T) {
	text, p := changed(t, changing, plan.Change{Step: "bore-right", Why: "New pump.", Add: &plan.NewStep{Title: "Oil-pump drive", Do: "Read the end float of the drive.", Role: "indicator", Names: []string{"Drive", "Spindle"}, Least: "0.004 in", Most: "0.008 in"}})
	ids := func() (out []string) {
		for _, s := range p.Steps {
			out = append(out, s.ID)
		}
		return out
	}
	if got := strings.Join(ids(), " "); got != "bore-left bore-right oil-pump-drive look" {
		t.Errorf("in the order %s", got)
	}
	s, _ := p.Step("oil-pump-drive")
	if len(s.Points) != 2 || s.Points[1].ID != "spindle" || s.Compute == nil || s.Phase != plan.Dry {
		t.Errorf("the step is %+v", s)
	}
	_, p = changed(t, text, plan.Change{Step: "bore-right", Why: "And that.", Add: &plan.NewStep{Title: "Oil-pump drive"}})
	if got := strings.Join(ids(), " "); got != "bore-left bore-right oil-pump-drive oil-pump-drive-2 look" {
		t.Errorf("in the order %s", got)
	}
}

func TestAChangeThatCantBe(t *testing.T) {
	for name, c := range map[string]struct {
		change plan.Change
		want   string
	}{
		"no reason":     {plan.Change{Step: "look", LeaveOut: true}, "only with a reason"},
		"no step":       {plan.Change{Step: "bore-lef", Why: "x", LeaveOut: true}, `no step "bore-lef"; did you mean "bore-left"?`},
		"nothing":       {plan.Change{Step: "look", Why: "x"}, "nothing is changed"},
		"another id":    {plan.Change{Step: "look", Why: "x", Set: map[string]string{"id": `"see"`}}, "a change can't replace id"},
		"unknown key":   {plan.Change{Step: "look", Why: "x", Set: map[string]string{"colour": `"red"`}}, `unknown key "colour"`},
		"no such limit": {plan.Change{Step: "look", Why: "x", Add: &plan.NewStep{Title: "A", Role: "indicator", Least: "4"}}, `the limit "4"`},
		"no title":      {plan.Change{Step: "look", Why: "x", Add: &plan.NewStep{}}, "wants a title"},
	} {
		if _, err := plan.Changed("changing", []byte(changing), c.change); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", name, err, c.want)
		}
	}
	for more, want := range map[string]string{
		"\n[[change]]\nstep = \"bor\"\nwhy = \"x\"\nleave_out = true\n": "there is no step \"bor\"",
		"\n[[change]]\nstep = \"bore\"\nleave_out = true\n":             "why is missing",
		"\n[[step]]\nid = \"new\"\nafter = \"bored\"\ntitle = \"N\"\ndo = \"N.\"\nphase = \"dry\"\nkind = \"check\"\nconfirms = [{ id = \"a\", text = \"A.\" }]\n": "no such step before it",
	} {
		if _, err := plan.Parse("changing", []byte(changing+more)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q in it", more, err, want)
		}
	}
}
