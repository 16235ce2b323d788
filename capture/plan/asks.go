package plan

import (
	"errors"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
)

// Ask is a question of the plan to the builder, put once at its step: which of a few things is so. The answer is kept for
// the build, and later steps and points stand or not by it.
type Ask struct {
	ID     string
	Text   string // "Are set screw holes there?"
	Choice []string
	Said   []string // how the choices are said, in their order; nil where they are said as they are
}

// Words is how people say a choice: "earlier (+)" for a keyway that is marked +. What is kept is the choice.
func (a Ask) Words(choice string) string {
	if i := slices.Index(a.Choice, choice); i >= 0 && i < len(a.Said) {
		return a.Said[i]
	}
	return choice
}

// ChoiceWords is how people say a choice of one of the plan's questions; the choice itself where no such question is asked.
func (p *Plan) ChoiceWords(ask, choice string) string {
	a, _, _ := p.Ask(ask)
	return a.Words(choice)
}

// askDraft is a question as the file has it, found before anything else is read: steps, points and data may say when.
type askDraft struct {
	Ask
	step int // of the file, from 0
	at   pos
}

// findAsks reads the questions of every step, before the steps themselves.
func (d *draft) findAsks(root *node) {
	d.asks = map[string]askDraft{}
	steps := root.get("step")
	if steps == nil {
		return
	}
	for i, st := range steps.items {
		for _, n := range st.get("asks").list() {
			id, choice := n.get("id"), n.get("choice")
			if id == nil || id.form != formText || choice == nil {
				continue // told where the step is read
			}
			for _, v := range d.each(newTable(n, d.fs, "", nil)) {
				a := Ask{ID: v.id(id.text)}
				for _, said := range n.get("said").list() {
					a.Said = append(a.Said, said.text)
				}
				d.findAsk(askDraft{Ask: a, step: i, at: id.pos}, choice)
			}
		}
	}
}

// findAsk notes one question.
func (d *draft) findAsk(a askDraft, choice *node) {
	for _, c := range choice.list() {
		a.Choice = append(a.Choice, d.choicesOf(c.text)...)
	}
	if _, is := d.Variant(a.ID); is {
		d.fs.add(a.at, "", "%s is a question here and a variant or group; give it a name of its own", quoted(a.ID))
	}
	old, twice := d.asks[a.ID]
	switch {
	case !twice:
		d.asks[a.ID] = a
	case !slices.Equal(old.Choice, a.Choice):
		d.fs.add(a.at, "", "%s is asked a second time, with other choices: %s before", quoted(a.ID), strings.Join(old.Choice, ", "))
	}
}

// list gives the elements of a list, or a single value as a list of one.
func (n *node) list() []*node {
	switch {
	case n == nil:
		return nil
	case n.form != formList:
		return []*node{n}
	}
	return n.items
}

// readAsks reads asks of a step.
func (d *draft) readAsks(t *table, s *stepDraft) {
	for _, at := range t.subs("asks") {
		if !d.applies(at) {
			continue
		}
		for _, v := range d.each(at) {
			d.readAsk(newTable(at.n, at.fs, at.where, v).as(at.of), s)
		}
	}
}

// readAsk reads one question, its variables written out.
func (d *draft) readAsk(at *table, s *stepDraft) {
	at.ignore("for", "when")
	a := Ask{ID: at.name(at.need("id", "a short name, which when says"), "id", "-")}
	at.need("text", "what is asked")
	a.Text = at.long("text")
	for _, n := range at.list("choice", formText) {
		for _, text := range d.choicesOf(n.text) {
			one := *n
			one.text = text
			c := at.prose(&one, "choice", longID)
			if slices.Contains(a.Choice, c) {
				at.fault(n.pos, "choice %s stands twice", quoted(c))
			}
			a.Choice = append(a.Choice, c)
		}
	}
	if len(a.Choice) < 2 {
		at.fault(at.n.at("choice"), "choice: want at least two answers to choose from")
	}
	for _, n := range at.list("said", formText) {
		a.Said = append(a.Said, at.prose(n, "said", longID))
	}
	if len(a.Said) > 0 && len(a.Said) != len(a.Choice) {
		at.fault(at.n.at("said"), "said: want one for each choice, %d, and there are %d", len(a.Choice), len(a.Said))
	}
	at.done()
	if a.ID == "" {
		return
	}
	if before, twice := d.askedIn[a.ID]; twice {
		at.fault(at.n.at("id"), "%s is asked already in step %s; it is asked once and kept", quoted(a.ID), quoted(before))
		return
	}
	d.askedIn[a.ID] = s.ID
	s.Asks = append(s.Asks, a)
}

// answer is what a question is taken to be answered with: what was answered, or the first choice until then.
func (d *draft) answer(a askDraft) string {
	if given, ok := d.given[a.ID]; ok {
		return given
	}
	return a.unanswered()
}

// unanswered is what a question is taken to be answered with until it is.
func (a askDraft) unanswered() string {
	if len(a.Choice) == 0 {
		return ""
	}
	return a.Choice[0]
}

// Deciding gives the answers by which the plan's text gives another plan than without any: those that are not what the question
// is taken to be answered with anyway. The text gives one plan for all answers that are alike in this.
func (p *Plan) Deciding(answers map[string]string) map[string]string {
	out := map[string]string{}
	for id, given := range answers {
		if first, asked := p.Firsts[id]; asked && first != given {
			out[id] = given
		}
	}
	return out
}

// answered reports whether a line of when about a question holds: the answer is one of those listed, or none of not = [...].
func (d *draft) answered(t *table, k field, a askDraft) bool {
	list, not := t, k.val.form == formTable
	key := k.name
	if not {
		list, key = newTable(k.val, t.fs, within(t.where, k.name), t.vars), "not"
		defer list.done()
	}
	among := false
	for _, n := range list.list(key, formText) {
		if !t.want(n, key, formText) {
			continue
		}
		text := t.vars.fill(n.text)
		if text == n.text && !slices.Contains(a.Choice, text) {
			t.fault(n.pos, "%s can't be answered %s%s", k.name, quoted(n.text), meant(n.text, a.Choice))
		}
		among = among || text == d.answer(a)
	}
	holds := among != not
	if d.fs.answers != nil {
		d.fs.answers[k.pos] = true
	}
	d.useAsk(t, k.pos, a)
	return holds
}

// useAsk notes that a question decides something here, and refuses it where it is not asked yet.
func (d *draft) useAsk(t *table, at pos, a askDraft) {
	if d.fileStep >= 0 && (d.fileStep < a.step || d.fileStep == a.step && d.wholeStep) {
		t.fault(at, "%s is asked only in this step or later, so nothing can depend on it here yet", quoted(a.ID))
	}
	if !slices.Contains(d.usedAsks, a.ID) {
		d.usedAsks = append(d.usedAsks, a.ID)
	}
}

// awaits notes which questions must be answered before a step may be worked on: those that decide whether it, or a part
// of it, or something it needs, stands.
func (d *draft) awaits() {
	for _, s := range d.steps {
		if s.byEye() {
			s.asked = append(s.asked, RunningDirection, WheelEnd)
		}
		for _, want := range s.needs {
			s.asked = append(s.asked, d.leftBy[want]...)
		}
		for _, id := range s.asked {
			if d.askedIn[id] != "" && d.askedIn[id] != s.ID && !slices.Contains(s.Awaits, id) {
				s.Awaits = append(s.Awaits, id)
			}
		}
	}
}

// Ask finds a question of the plan and the step that puts it.
func (p *Plan) Ask(id string) (Ask, Step, bool) {
	for _, s := range p.Steps {
		for _, a := range s.Asks {
			if a.ID == id {
				return a, s, true
			}
		}
	}
	return Ask{}, Step{}, false
}

// mostAnswers is how many ways of answering a plan's questions are all looked at; of more, one answer at a time.
const mostAnswers = 24

// CheckAnswers reads a plan with the answers that its questions may get, all together where they are few, else one at a
// time, and tells the faults: a build that is begun must not find out later that an answer leaves no plan.
func (p *Plan) CheckAnswers() error {
	syntax := &faults{file: p.Name}
	root := parseTree(p.Text, syntax) // once: it takes near half the time of reading
	if root == nil {
		return syntax.err()
	}
	methods := calc.Methods()
	if _, err := readAnswered(root, p.Text, methods, &faults{file: p.Name, everyAnswer: true}, nil); err != nil {
		return err
	}
	return p.checkAnswers(root, methods)
}

// checkAnswers is CheckAnswers of a plan's tree. Only questions that decide what stands are looked at so; what an answer
// gives as an input is looked at where it is read, which is once.
func (p *Plan) checkAnswers(root *node, methods []calc.Method) error {
	for _, answers := range p.waysToAnswer(root.decides(map[string]bool{})) {
		_, err := readAnswered(root, p.Text, methods, &faults{file: p.Name}, answers)
		var fs Faults
		if errors.As(err, &fs) {
			for i := range fs {
				fs[i].What += " (answered: " + choiceWords(answers) + ")"
			}
			return fs
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// decides collects what every when says: variants, groups and questions.
func (n *node) decides(out map[string]bool) map[string]bool {
	for _, k := range n.keys {
		if k.name == "when" {
			for _, line := range k.val.keys {
				out[line.name] = true
			}
		}
		k.val.decides(out)
	}
	for _, item := range n.items {
		item.decides(out)
	}
	return out
}

// waysToAnswer lists answers to look at besides the first choices, to questions that decide something.
func (p *Plan) waysToAnswer(decides map[string]bool) []map[string]string {
	all, single := []map[string]string{{}}, []map[string]string{}
	for _, s := range p.Steps {
		for _, a := range s.Asks {
			if !decides[a.ID] {
				continue
			}
			var next []map[string]string
			for _, c := range a.Choice {
				for _, so := range all {
					if len(next) <= mostAnswers {
						with := maps.Clone(so)
						with[a.ID] = c
						next = append(next, with)
					}
				}
			}
			all = next
			for _, c := range a.Choice[1:] {
				single = append(single, map[string]string{a.ID: c})
			}
		}
	}
	if len(all) > mostAnswers {
		return single
	}
	return all[1:] // the first of them is the plan as it stands
}
