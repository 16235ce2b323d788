package plan

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
)

// Variant is a choice that shapes a plan: how the engine is made, or whether a group of steps is wanted. It is chosen once,
// in the text, before a build is started; the text that a build keeps holds what was chosen.
type Variant struct {
	Name   string
	Title  string
	Choice []string // in the order of the file; "no" and "yes" for a group
	Value  string   // one of Choice
	Group  bool
}

// The choices of a group.
const (
	groupOff = "no"
	groupOn  = "yes"
)

// Variant finds a variant by name.
func (p *Plan) Variant(name string) (Variant, bool) {
	i := slices.IndexFunc(p.Variants, func(v Variant) bool { return v.Name == name })
	if i < 0 {
		return Variant{}, false
	}
	return p.Variants[i], true
}

// readVariants reads [variant.NAME] and [group.NAME].
func (d *draft) readVariants(t *table) {
	if all := t.sub("variant"); all != nil {
		for _, k := range all.n.keys {
			if vt := d.variantTable(all, k); vt != nil {
				d.readVariant(vt, k.name)
			}
		}
	}
	if all := t.sub("group"); all != nil {
		for _, k := range all.n.keys {
			if gt := d.variantTable(all, k); gt != nil {
				d.readGroup(gt, k.name)
			}
		}
	}
}

func (d *draft) variantTable(all *table, k field) *table {
	if !isName(k.name, "-") {
		all.fault(k.pos, "%s may hold only lower-case letters, digits and \"-\"", quoted(k.name))
		return nil
	}
	if _, twice := d.Variant(k.name); twice {
		all.fault(k.pos, "%s is a variant and a group", quoted(k.name))
		return nil
	}
	if !all.want(k.val, k.name, formTable) {
		return nil
	}
	return newTable(k.val, d.fs, fmt.Sprintf("%s %q", all.where, k.name), nil).as(keyTable(all.where))
}

func (d *draft) readVariant(t *table, name string) {
	t.need("title", "what is chosen, in a few words")
	v := Variant{Name: name, Title: t.line("title"), Choice: t.names("choice")}
	if len(v.Choice) < 2 {
		t.fault(t.n.pos, "choice: want at least two names to choose from")
	}
	if n := t.need("value", "one of the choices"); n != nil {
		v.Value = word(t, "value", "", v.Choice...)
	}
	t.done()
	d.Variants = append(d.Variants, v)
}

func (d *draft) readGroup(t *table, name string) {
	t.need("title", "what the group of steps does, in a few words")
	v := Variant{Name: name, Title: t.line("title"), Choice: []string{groupOff, groupOn}, Value: groupOff, Group: true}
	t.need("on", "true or false")
	if t.flag("on") {
		v.Value = groupOn
	}
	t.done()
	d.Variants = append(d.Variants, v)
}

// applies reads when = { pushrods = "tubes", balance = true }: every line of it must hold. Without it a part always applies.
func (d *draft) applies(t *table) bool {
	n := t.get("when")
	if n == nil || !t.want(n, "when", formTable) {
		return true
	}
	wt := newTable(n, t.fs, within(t.where, "when"), t.vars)
	holds := true
	for _, k := range n.keys {
		if a, asked := d.asks[k.name]; asked {
			holds = d.answered(wt, k, a) && holds
			continue
		}
		v, ok := d.Variant(k.name)
		if !ok {
			wt.fault(k.pos, "there is no variant, no group and no question %s%s", quoted(k.name), meant(k.name, append(d.variantNames(), slices.Sorted(maps.Keys(d.asks))...)))
			continue
		}
		holds = wt.chosen(k, v) && holds
	}
	return holds
}

func (d *draft) variantNames() []string {
	var names []string
	for _, v := range d.Variants {
		names = append(names, v.Name)
	}
	return names
}

// chosen reports whether one line of when holds.
func (t *table) chosen(k field, v Variant) bool {
	if v.Group {
		if !t.want(k.val, k.name, formFlag) {
			return false
		}
		return (k.val.text == "true") == (v.Value == groupOn)
	}
	chosen := false
	for _, n := range t.list(k.name, formText) {
		if !t.want(n, k.name, formText) {
			continue
		}
		if !slices.Contains(v.Choice, n.text) {
			t.fault(n.pos, "%s can't be %s%s", k.name, quoted(n.text), meant(n.text, v.Choice))
		}
		chosen = chosen || n.text == v.Value
	}
	return chosen
}

// Shape writes other choices into the text of a plan: variants by their choice, groups by "yes" or "no". It fails on a
// name or choice that the plan does not have; nothing else of the text is changed.
func Shape(name string, text []byte, choices map[string]string) ([]byte, error) {
	fs := &faults{file: name}
	root := parseTree(text, fs)
	if root == nil {
		return nil, fs.err()
	}
	d := &draft{Plan: &Plan{}, fs: fs}
	d.readVariants(newTable(root, fs, "", nil).as(keyTable("plan")))
	if err := fs.err(); err != nil {
		return nil, err
	}
	type edit struct {
		at       int
		old, new string
	}
	var edits []edit
	for key, choice := range choices {
		v, ok := d.Variant(key)
		if !ok {
			return nil, fmt.Errorf("plan %q has no variant and no group %s%s", name, quoted(key), meant(key, d.variantNames()))
		}
		if !slices.Contains(v.Choice, choice) {
			return nil, fmt.Errorf("plan %q: %s can't be %s%s", name, key, quoted(choice), meant(choice, v.Choice))
		}
		at, old, with := root.at("variant", key, "value"), `"`+v.Value+`"`, `"`+choice+`"`
		if v.Group {
			flags := map[string]string{groupOff: "false", groupOn: "true"}
			at, old, with = root.at("group", key, "on"), flags[v.Value], flags[choice]
		}
		edits = append(edits, edit{offset(text, at), old, with})
	}
	slices.SortFunc(edits, func(a, b edit) int { return b.at - a.at }) // from the end, so that places stay right
	out := string(text)
	for _, e := range edits {
		if !strings.HasPrefix(out[e.at:], e.old) {
			return nil, fmt.Errorf("plan %q: the choice is not written as %s", name, e.old)
		}
		out = out[:e.at] + e.new + out[e.at+len(e.old):]
	}
	return []byte(out), nil
}

// offset is where a place stands in a text.
func offset(text []byte, p pos) int {
	at := 0
	for line := 1; line < p.line; line++ {
		i := slices.Index(text[at:], '\n')
		if i < 0 {
			return len(text)
		}
		at += i + 1
	}
	return min(at+p.col-1, len(text))
}

// Shapes lists choices that together reach every part of a plan: each variant's other choices and each group turned, one
// at a time, with all groups on and with all off.
func (p *Plan) Shapes() []map[string]string {
	var out []map[string]string
	add := func(choices map[string]string) {
		if !p.contradict(choices) {
			out = append(out, choices)
		}
	}
	for _, group := range []string{groupOff, groupOn} {
		base := map[string]string{}
		for _, v := range p.Variants {
			if v.Group {
				base[v.Name] = group
			}
		}
		add(base)
		for _, v := range p.Variants {
			for _, c := range v.Choice {
				if c == v.Value && !v.Group || base[v.Name] == c {
					continue
				}
				one := map[string]string{v.Name: c}
				for k, x := range base {
					if k != v.Name {
						one[k] = x
					}
				}
				add(one)
			}
		}
	}
	return out
}

// CheckShapes reads a plan as it stands and in every shape that its variants and groups give it, and tells the faults of
// all. Where a shape has a place that waits for an answer and no shape before it had, it is read with every answer too.
func CheckShapes(name string, text []byte) (*Plan, error) {
	syntax, methods := &faults{file: name}, calc.Methods()
	root := parseTree(text, syntax) // once, for all shapes and answers
	if root == nil {
		return nil, syntax.err()
	}
	seen := map[pos]bool{}
	read := func(root *node) (*Plan, error) {
		fs := &faults{file: name, everyAnswer: true, answers: map[pos]bool{}}
		p, err := readAnswered(root, text, methods, fs, nil)
		known := len(seen)
		if maps.Copy(seen, fs.answers); err == nil && len(seen) > known {
			err = p.checkAnswers(root, methods)
		}
		return p, err
	}
	p, err := read(root)
	if err != nil {
		return nil, err
	}
	for _, choices := range p.Shapes() {
		_, err := read(root.shaped(choices))
		var fs Faults
		if errors.As(err, &fs) {
			for i := range fs {
				fs[i].What += " (with " + choiceWords(choices) + ")"
			}
			return nil, fs
		}
		if err != nil {
			return nil, err
		}
	}
	return p, nil
}

// shaped is the tree of a plan with other choices; what is not changed is shared with it.
func (n *node) shaped(choices map[string]string) *node {
	out := *n
	out.keys = slices.Clone(n.keys)
	for i, k := range out.keys {
		value, of := map[string]string{"variant": "value", "group": "on"}[k.name], k.val
		if value == "" || of.form != formTable {
			continue
		}
		all := *of
		all.keys = slices.Clone(of.keys)
		for j, v := range all.keys {
			choice, chosen := choices[v.name]
			if !chosen || v.val.get(value) == nil {
				continue
			}
			if k.name == "group" {
				choice = fmt.Sprint(choice == groupOn)
			}
			all.keys[j].val = v.val.with(value, choice)
		}
		out.keys[i].val = &all
	}
	return &out
}

// with is a table with another text behind one of its keys.
func (n *node) with(name, text string) *node {
	out := *n
	out.keys = slices.Clone(n.keys)
	for i, k := range out.keys {
		if k.name == name {
			val := *k.val
			val.text = text
			out.keys[i].val = &val
		}
	}
	return &out
}

// choiceWords puts choices in words, sorted.
func choiceWords(choices map[string]string) string {
	var words []string
	for k, v := range choices {
		words = append(words, k+" = "+v)
	}
	slices.Sort(words)
	if len(words) == 0 {
		return "the plan as it stands"
	}
	return strings.Join(words, ", ")
}

// Choices reads "NAME=CHOICE" words, as a command line has them.
func Choices(words []string) (map[string]string, error) {
	out := map[string]string{}
	for _, w := range words {
		name, choice, ok := strings.Cut(w, "=")
		if name, choice = strings.TrimSpace(name), strings.TrimSpace(choice); !ok || name == "" || choice == "" {
			return nil, fmt.Errorf("%s: want NAME=CHOICE, as pushrods=tubes or balance=yes", quoted(w))
		}
		if old, twice := out[name]; twice && old != choice {
			return nil, fmt.Errorf("%s is chosen twice, as %s and as %s", name, old, choice)
		}
		out[name] = choice
	}
	return out, nil
}
