package plan

import (
	"maps"
	"slices"
	"strings"

	"thoud/calc"
)

// answerRef begins a reference to what a question of the plan was answered with.
const answerRef = "@answer:"

// answerNone is the answer with which an input "@answer:ID?" is left out.
const answerNone = "none"

// answerVar begins what stands in a step's texts for the words of an answer: {answer:plate}.
const answerVar = "answer:"

// answersSaid adds the answers that the texts of a step say to its variables. The step waits for them.
func (d *draft) answersSaid(t *table, n *node) vars {
	out := t.vars
	var look func(n *node)
	look = func(n *node) {
		for text := t.vars.fill(n.text); ; {
			_, rest, found := strings.Cut(text, "{"+answerVar)
			id, after, closed := strings.Cut(rest, "}")
			if !found || !closed {
				break
			}
			text = after
			if a, asked := d.asks[id]; asked {
				d.useAsk(t, n.pos, a)
				out = out.with(answerVar+id, a.Words(d.answer(a)))
			}
		}
		for _, k := range n.keys {
			look(k.val)
		}
		for _, item := range n.items {
			look(item)
		}
	}
	look(n)
	return out
}

// choicesOf writes a choice out: "{cylinder}" is every cylinder where there are several, and none where there is one, of which
// all or nothing says as much; "{block}" is every guide block in the same way.
func (d *draft) choicesOf(text string) []string {
	switch {
	case text == "":
		return nil
	case strings.Contains(text, "{"+eachBlock+"}"):
		return written(text, eachBlock, d.Blocks)
	case strings.Contains(text, "{"+eachCylinder+"}"):
		return written(text, eachCylinder, d.Cylinders)
	}
	return []string{text}
}

// written writes a choice out for each of several; one alone is what all says, and nothing of it is written.
func written(text, name string, each []string) []string {
	if len(each) < 2 {
		return nil
	}
	var out []string
	for _, e := range each {
		out = append(out, vars{{name, e}}.fill(text))
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
		id = t.vars.id(strings.TrimSuffix(id, "?"))
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
		val := d.withAnswers(t, k.val)
		if val.text == answerNone && val.form == formText && strings.HasPrefix(k.val.text, answerRef) && strings.HasSuffix(k.val.text, "?") {
			continue // there is none of it
		}
		k.val = val
		out.keys = append(out.keys, k)
	}
	for _, item := range n.items {
		out.items = append(out.items, d.withAnswers(t, item))
	}
	return &out
}

// otherAnswers reads inputs with every answer that stands in them, for the faults alone.
func (d *draft) otherAnswers(t *table, written *node, m calc.Method) {
	ids := map[string]bool{}
	written.answersIn(t.vars, ids)
	given := d.given
	defer func() { d.given = given }()
	for _, id := range slices.Sorted(maps.Keys(ids)) {
		for _, choice := range d.asks[id].Choice {
			d.given = map[string]string{}
			maps.Copy(d.given, given)
			d.given[id] = choice
			one := newTable(d.withAnswers(t, written), t.fs, t.where, t.vars)
			one.bindings(m.Inputs, "the method "+m.Name, map[string]Binding{})
		}
	}
}

// answersIn collects the questions whose answers stand in a value.
func (n *node) answersIn(v vars, out map[string]bool) {
	if id, is := strings.CutPrefix(n.text, answerRef); is && n.form == formText {
		out[v.id(strings.TrimSuffix(id, "?"))] = true
	}
	for _, k := range n.keys {
		k.val.answersIn(v, out)
	}
	for _, item := range n.items {
		item.answersIn(v, out)
	}
}

// appliesTo is applies for one copy of what is written out, whose when may say {cylinder}.
func (d *draft) appliesTo(t *table, v vars) bool {
	if t.n.get("when") == nil {
		return true
	}
	return d.applies(newTable(t.n, t.fs, t.where, v).as(t.of))
}
