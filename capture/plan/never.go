package plan

import (
	"maps"
	"slices"
	"strings"
)

// Never is choices that contradict each other: no engine has them together.
type Never struct {
	When map[string][]string // variants and groups, each with the choices that are meant
	Told string              // why, and what to choose instead
}

// readNever reads [[never]]: choices that may not stand together. A plan in which they do is refused with what is told.
func (d *draft) readNever(t *table) {
	for _, nt := range t.subs("never") {
		n := Never{When: map[string][]string{}, Told: nt.prose(nt.need("told", "why not, and what to choose instead"), "told", longText)}
		when := nt.sub("when")
		if when == nil {
			nt.need("when", "the choices that may not stand together")
			nt.done()
			continue
		}
		holds := true
		for _, k := range when.n.keys {
			v, ok := d.Variant(k.name)
			if !ok {
				when.fault(k.pos, "there is no variant and no group %s%s", quoted(k.name), meant(k.name, d.variantNames()))
				holds = false
				continue
			}
			holds = when.chosen(k, v) && holds
			n.When[v.Name] = chosenWords(k, v)
		}
		if len(n.When) < 2 {
			when.fault(when.n.pos, "want at least two choices that contradict each other")
			holds = false
		}
		nt.done()
		d.Nevers = append(d.Nevers, n)
		if holds {
			nt.fault(when.n.pos, "%s can't stand together: %s", n.words(), n.Told)
		}
	}
}

// chosenWords are the choices that a line of when lists.
func chosenWords(k field, v Variant) []string {
	if v.Group {
		if k.val.text == "true" {
			return []string{groupOn}
		}
		return []string{groupOff}
	}
	var out []string
	for _, n := range k.val.list() {
		out = append(out, n.text)
	}
	return out
}

// words are the choices: "barrels = each and camshaft = two".
func (n Never) words() string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(n.When)) {
		out = append(out, name+" = "+strings.Join(n.When[name], " or "))
	}
	return strings.Join(out, " and ")
}

// contradict reports whether choices, laid over those of the plan, contradict each other.
func (p *Plan) contradict(choices map[string]string) bool {
	return slices.ContainsFunc(p.Nevers, func(n Never) bool {
		for name, meant := range n.When {
			v, _ := p.Variant(name)
			if c, ok := choices[name]; ok {
				v.Value = c
			}
			if !slices.Contains(meant, v.Value) {
				return false
			}
		}
		return true
	})
}
