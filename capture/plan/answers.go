package plan

import "strings"

// answerRef begins a reference to what a question of the plan was answered with.
const answerRef = "@answer:"

// choicesOf writes a choice out: "{cylinder}" is every cylinder where there are several, and none where there is one, of which
// all or nothing says as much.
func (d *draft) choicesOf(text string) []string {
	switch {
	case text == "":
		return nil
	case !strings.Contains(text, "{"+eachCylinder+"}"):
		return []string{text}
	case len(d.Cylinders) < 2:
		return nil
	}
	var out []string
	for _, v := range cylindersIn(nil, d.Cylinders) {
		out = append(out, v.fill(text))
	}
	return out
}

// withAnswers puts answers in place of "@answer:ID": the words that the question was answered with, its first choice until
// then. The step waits for the answer like one that depends on it by when.
func (d *draft) withAnswers(t *table, n *node) *node {
	if n == nil {
		return nil
	}
	out := *n
	if id, is := strings.CutPrefix(n.text, answerRef); is && n.form == formText {
		a, asked := d.asks[id]
		if !asked {
			t.fault(n.pos, "%s: no step asks %s", quoted(n.text), quoted(id))
			return n
		}
		d.useAsk(t, n.pos, a)
		out.text = d.answer(a)
		return &out
	}
	out.keys, out.items = nil, nil
	for _, k := range n.keys {
		k.val = d.withAnswers(t, k.val)
		out.keys = append(out.keys, k)
	}
	for _, item := range n.items {
		out.items = append(out.items, d.withAnswers(t, item))
	}
	return &out
}

// appliesTo is applies for one copy of what is written out, whose when may say {cylinder}.
func (d *draft) appliesTo(t *table, v vars) bool {
	if t.n.get("when") == nil {
		return true
	}
	return d.applies(newTable(t.n, t.fs, t.where, v).as(t.of))
}
