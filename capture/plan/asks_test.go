package plan_test

import (
	"slices"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// asking is a plan in which an answer decides which steps and points stand.
const asking = head + `
[[step]]
id = "look"
title = "Look"
do = "Look at the flange."
phase = "dry"
kind = "check"
asks = [{ id = "holes", text = "Are screw holes there?", choice = ["none", "left", "both"] }]

[[step]]
id = "drill"
title = "Drill"
when = { holes = ["none", "left"] }
do = "Read the thickness."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "caliper" }
[[step.point]]
id = "left.thickness"
when = { holes = "none" }
[[step.point]]
id = "right.thickness"

[[step]]
id = "fit"
title = "Fit"
do = "Fit it."
phase = "dry"
kind = "fit"
needs = ["drill"]
confirms = [{ id = "in", text = "It is in." }]
`

func points(s plan.Step) string {
	var ids []string
	for _, p := range s.Points {
		ids = append(ids, p.ID)
	}
	return strings.Join(ids, " ")
}

// What stands follows the answer; until there is one, the first choice is looked at, and what depends on it waits.
func TestAnswersDecideWhatStands(t *testing.T) {
	for answer, want := range map[string]string{"": "left.thickness right.thickness", "none": "left.thickness right.thickness", "left": "right.thickness", "both": "-"} {
		given := map[string]string{}
		if answer != "" {
			given["holes"] = answer
		}
		p, err := plan.ParseAnswered("test", []byte(asking), given)
		if err != nil {
			t.Fatalf("%q: %v", answer, err)
		}
		got := "-"
		if s, ok := p.Step("drill"); ok {
			if got = points(s); !slices.Equal(s.Awaits, []string{"holes"}) {
				t.Errorf("%q: drill awaits %v", answer, s.Awaits)
			}
		}
		if got != want {
			t.Errorf("%q: drill reads %s, want %s", answer, got, want)
		}
		// Who needs a step that an answer leaves out waits for the answer, and counts the step as done.
		if s, _ := p.Step("fit"); answer == "both" != slices.Equal(s.Awaits, []string{"holes"}) || (len(s.Needs) == 0) != (answer == "both") {
			t.Errorf("%q: fit awaits %v and needs %v", answer, s.Awaits, s.Needs)
		}
	}
	if err := parse(t, asking).CheckAnswers(); err != nil {
		t.Error(err)
	}
}

func TestFaultsOfQuestions(t *testing.T) {
	const ask = `asks = [{ id = "holes", text = "Are screw holes there?", choice = ["none", "left", "both"] }]`
	for _, c := range []struct{ old, new, want string }{
		{`when = { holes = "none" }`, `when = { hole = "none" }`, `test:24:10: step "drill", point, when: there is no variant, no group and no question "hole"; did you mean "holes"?`},
		{`when = { holes = "none" }`, `when = { holes = "lft" }`, `test:24:18: step "drill", point, when: holes can't be answered "lft"; did you mean "left"?`},
		{ask, `asks = [{ id = "holes", text = "Are screw holes there?", choice = ["none"] }]`, `test:12:58: step "look", asks: choice: want at least two answers to choose from`},
		{ask, `asks = [{ id = "holes", text = "Are screw holes there?", choices = ["none", "left", "both"] }]`, `unknown key "choices"; did you mean "choice"?`},
		{ask, strings.Replace(ask, "]}", "]}", 1) + "\nwhen = { holes = \"none\" }", `test:13:10: step "look", when: "holes" is asked only in this step or later, so nothing can depend on it here yet`},
		{`needs = ["drill"]`, `asks = [{ id = "holes", text = "Again?", choice = ["none", "left", "both"] }]`, `test:34:16: step "fit", asks: "holes" is asked already in step "look"; it is asked once and kept`},
		{`needs = ["drill"]`, `asks = [{ id = "holes", text = "Again?", choice = ["no", "yes"] }]`, `test:34:16: "holes" is asked a second time, with other choices: none, left, both before`},
		{"[[step]]\nid = \"look\"", "[group.holes]\ntitle = \"Holes\"\non = false\n[[step]]\nid = \"look\"", `"holes" is a question here and a variant or group; give it a name of its own`},
	} {
		text := strings.Replace(asking, c.old, c.new, 1)
		if text == asking {
			t.Fatalf("the plan has no %s", c.old)
		}
		_, err := plan.Parse("test", []byte(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.new, err, c.want)
		}
	}
	// An answer that leaves a plan without sense is found before a build is begun with it.
	text := strings.Replace(asking, `kind = "fit"`, "kind = \"fit\"\n[step.compute]\nmethod = \"statistics\"\ninputs = { values = [\"@reading:drill/right.thickness\"] }", 1)
	text = strings.Replace(text, "needs = [\"drill\"]\nconfirms = [{ id = \"in\", text = \"It is in.\" }]", "", 1)
	p, err := plan.Parse("test", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := p.CheckAnswers(); err == nil || !strings.Contains(err.Error(), `(answered: holes = both)`) {
		t.Errorf("got %v", err)
	}
	if _, err := plan.CheckShapes("test", []byte(text)); err == nil {
		t.Error("plan check finds nothing")
	}
}

// Marks on a part are said in words, as many as there are choices; what is kept and bound is the mark.
func TestMarksAreSaidInWords(t *testing.T) {
	const said = `choice = ["none", "left", "both"], said = ["bare", "left only (l)", "both (b)"]`
	text := strings.Replace(asking, `choice = ["none", "left", "both"]`, said, 1)
	text = strings.Replace(text, `text = "It is in."`, `text = "Holes: {answer:holes}."`, 1)
	p, err := plan.ParseAnswered("test", []byte(text), map[string]string{"holes": "left"})
	if err != nil {
		t.Fatal(err)
	}
	if got := p.ChoiceWords("holes", "both"); got != "both (b)" {
		t.Errorf("both is said %q", got)
	}
	if got := p.ChoiceWords("elsewhere", "both"); got != "both" {
		t.Errorf("of no question: %q", got)
	}
	if s, _ := p.Step("fit"); s.Confirms[0].Text != "Holes: left only (l)." {
		t.Errorf("in a text: %q", s.Confirms[0].Text)
	}
	if _, err := plan.Parse("test", []byte(strings.Replace(text, `, "both (b)"]`, `]`, 1))); err == nil || !strings.Contains(err.Error(), "one for each choice, 3, and there are 2") {
		t.Errorf("two words for three choices: %v", err)
	}
}
