package plan

import (
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"thoud/calc/quantity"
)

// The longest texts, in characters.
const (
	longID   = 64
	longLine = 160
	longText = 600
	maxList  = maxPoints + 1 // elements of any list
)

// table reads one table of the file strictly: each key once, of the right form, and none that nobody asked for.
type table struct {
	n     *node
	fs    *faults
	where string // in messages: `step "bore"`
	vars  vars
	of    *KeyTable // which table of the language it is; nil for one with any keys
	asked []string  // what was asked for of one with any keys
	seen  []bool    // the keys of the file that were asked for, by their place in it
	few   [24]bool  // where seen has its room, for tables of the usual size
}

func newTable(n *node, fs *faults, where string, v vars) *table {
	return &table{n: n, fs: fs, where: where, vars: v}
}

// as says which table of the language it is.
func (t *table) as(of *KeyTable) *table {
	t.of = of
	return t
}

// get finds a key's value and notes that it is known.
func (t *table) get(key string) *node {
	t.of.row(key)
	return t.mark(key)
}

// mark notes that a key is known, and finds its value.
func (t *table) mark(key string) *node {
	if t.of == nil {
		t.asked = append(t.asked, key)
	}
	if t.n == nil || t.n.form != formTable {
		return nil
	}
	if t.seen == nil {
		if t.seen = t.few[:]; len(t.n.keys) > len(t.few) {
			t.seen = make([]bool, len(t.n.keys))
		}
	}
	for i := range t.n.keys {
		if t.n.keys[i].name == key {
			t.seen[i] = true
			return t.n.keys[i].val
		}
	}
	return nil
}

func (t *table) fault(p pos, format string, args ...any) { t.fs.add(p, t.where, format, args...) }

// newer is a fault that earlier versions did not know; a text that a build keeps is not refused for it.
func (t *table) newer(p pos, format string, args ...any) {
	if !t.fs.kept {
		t.fault(p, format, args...)
	}
}

// done refuses the keys nobody asked for.
func (t *table) done() {
	var known []string
	for i, k := range t.n.keys {
		if t.fs.full() {
			return
		}
		if t.seen != nil && t.seen[i] {
			continue
		}
		if known == nil {
			known = t.known()
		}
		if near := nearest(k.name, known); near != "" {
			t.fault(k.pos, "unknown key %s; did you mean %q? Known here: %s", quoted(k.name), near, strings.Join(known, ", "))
			continue
		}
		t.fault(k.pos, "unknown key %s; known here: %s", quoted(k.name), strings.Join(known, ", "))
	}
}

// known lists the keys that the table may have.
func (t *table) known() []string {
	if t.of == nil {
		return slices.Compact(slices.Sorted(slices.Values(t.asked)))
	}
	var names []string
	for _, k := range t.of.Keys {
		names = append(names, k.Name)
	}
	return slices.Sorted(slices.Values(names))
}

// ignore takes keys as known without reading them.
func (t *table) ignore(keys ...string) {
	for _, k := range keys {
		t.get(k)
	}
}

// need finds a value that must be there.
func (t *table) need(key, what string) *node {
	n := t.get(key)
	if n == nil {
		t.fault(t.n.pos, "%s is missing: %s", key, what)
	}
	return n
}

// want refuses a value of another form.
func (t *table) want(n *node, key string, f form) bool {
	if n == nil {
		return false
	}
	if n.form != f {
		t.fault(n.pos, "%s is %s, want %s", key, n.form, f)
		return false
	}
	return true
}

// text checks one text: right form, not hostile, not over-long; variables of the expansion are written out.
func (t *table) text(n *node, key string, longest int) string {
	return t.vars.fill(t.raw(n, key, longest))
}

// raw is text with the variables as written.
func (t *table) raw(n *node, key string, longest int) string {
	if !t.want(n, key, formText) {
		return ""
	}
	s := n.text
	if s == "" {
		t.fault(n.pos, "%s is empty", key)
		return ""
	}
	if utf8.RuneCountInString(s) > longest {
		t.fault(n.pos, "%s has %d characters; at most %d", key, utf8.RuneCountInString(s), longest)
		return ""
	}
	for _, r := range s {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			t.fault(n.pos, "%s holds the character %U, which is not for print", key, r)
			return ""
		}
	}
	return s
}

// prose is a text for people: no variable may be left over.
func (t *table) prose(n *node, key string, longest int) string {
	s := t.text(n, key, longest)
	if name := leftover(s); name != "" {
		t.fault(n.pos, "%s: {%s} stands for nothing here%s", key, name, t.vars.hint())
	}
	return s
}

// line is a short text of a key, "" where it isn't there; long a long one.
func (t *table) line(key string) string { return t.optional(key, longLine) }
func (t *table) long(key string) string { return t.optional(key, longText) }

func (t *table) optional(key string, longest int) string {
	n := t.get(key)
	if n == nil {
		return ""
	}
	return t.prose(n, key, longest)
}

// texts is a list of texts; one text alone stands for a list of one.
func (t *table) texts(key string, longest int) []string {
	var out []string
	for _, n := range t.list(key, formText) {
		if s := t.prose(n, key, longest); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// list gives a key's elements; a single value of the wanted form stands for a list of one.
func (t *table) list(key string, single form) []*node {
	n := t.get(key)
	switch {
	case n == nil:
		return nil
	case n.form == single:
		return []*node{n}
	case n.form != formList:
		t.fault(n.pos, "%s is %s, want a list", key, n.form)
		return nil
	}
	if len(n.items) > maxList {
		t.fault(n.pos, "%s has %d elements; at most %d", key, len(n.items), maxList)
		return nil
	}
	return n.items
}

// name is a text that people and subjects of messages use: lower-case letters, digits and the signs given.
func (t *table) name(n *node, key, signs string) string {
	s := t.vars.id(t.raw(n, key, longID))
	if name := leftover(s); name != "" {
		t.fault(n.pos, "%s: {%s} stands for nothing here%s", key, name, t.vars.hint())
		return ""
	}
	if s != "" && !isName(s, signs) {
		t.fault(n.pos, "%s %s may hold only lower-case letters, digits and %q, and begins with a letter or digit", key, quoted(s), signs)
		return ""
	}
	return s
}

func isName(s, signs string) bool {
	for i, r := range s {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
		case i > 0 && i < len(s)-1 && strings.ContainsRune(signs, r):
		default:
			return false
		}
	}
	return s != ""
}

// word is one of a few words; "" and a fault where it is another, def where it isn't there.
func word[T ~string](t *table, key string, def T, words ...T) T {
	n := t.get(key)
	if n == nil {
		return def
	}
	s := T(t.text(n, key, longID))
	if s == "" {
		return ""
	}
	for _, w := range words {
		if s == w {
			return s
		}
	}
	list := make([]string, len(words))
	for i, w := range words {
		list[i] = string(w)
	}
	if near := nearest(string(s), list); near != "" {
		t.fault(n.pos, "%s is %s; did you mean %q? Want one of %s", key, quoted(string(s)), near, strings.Join(list, ", "))
		return ""
	}
	t.fault(n.pos, "%s is %s, want one of %s", key, quoted(string(s)), strings.Join(list, ", "))
	return ""
}

// flag is a key that is true or false.
func (t *table) flag(key string) bool {
	n := t.get(key)
	return n != nil && t.want(n, key, formFlag) && n.text == "true"
}

// count is a whole number of a key between two bounds, def where it isn't there.
func (t *table) count(key string, def, least, most int) int {
	n := t.get(key)
	if n == nil || !t.want(n, key, formNumber) {
		return def
	}
	d, places, err := quantity.ParseDecimal(n.text)
	if err != nil || places != 0 || d < int64(least) || d > int64(most) {
		t.fault(n.pos, "%s is %s, want a whole number from %d to %d", key, quoted(n.text), least, most)
		return def
	}
	return int(d)
}

// quantity reads a value as a quantity of a kind ("" for any); a bare number is a count or ratio.
func (t *table) quantity(n *node, key string, kind quantity.Kind) (quantity.Value, bool) {
	s := ""
	switch {
	case n == nil:
		return quantity.Value{}, false
	case n.form == formNumber:
		s = n.text
		if kind != "" && kind != quantity.Number {
			t.fault(n.pos, "%s is the bare number %s, want a %s with its unit, as \"%s %s\"", key, n.text, kind, n.text, quantity.Base(kind).Code)
			return quantity.Value{}, false
		}
	default:
		if s = t.text(n, key, longID); s == "" {
			return quantity.Value{}, false
		}
	}
	v, err := quantity.ParseAs(kind, s)
	if err != nil {
		t.fault(n.pos, "%s: %v", key, err)
		return quantity.Value{}, false
	}
	return v, true
}

// amount is an optional quantity of a key; the zero Value where it isn't there.
func (t *table) amount(key string, kind quantity.Kind) quantity.Value {
	v, _ := t.quantity(t.get(key), key, kind)
	return v
}

// dwell is an optional short time, as "600 ms".
func (t *table) dwell(key string) time.Duration {
	n := t.get(key)
	if n == nil {
		return 0
	}
	s := t.text(n, key, longID)
	d, err := time.ParseDuration(strings.ReplaceAll(s, " ", ""))
	if s != "" && (err != nil || d <= 0 || d > time.Minute) {
		t.fault(n.pos, "%s is %s, want a time up to a minute, as \"600 ms\"", key, quoted(s))
		return 0
	}
	return d
}

// sub is a table of a key, nil where it isn't there; the fields of it are named in messages after the key.
func (t *table) sub(key string) *table {
	n := t.get(key)
	if n == nil || !t.want(n, key, formTable) {
		return nil
	}
	return newTable(n, t.fs, within(t.where, key), t.vars).as(t.of.within(key))
}

// subs is the list of tables of a key.
func (t *table) subs(key string) []*table {
	var out []*table
	for _, n := range t.list(key, formTable) {
		if t.want(n, key, formTable) {
			out = append(out, newTable(n, t.fs, within(t.where, key), t.vars).as(t.of.within(key)))
		}
	}
	return out
}

func within(where, key string) string {
	if where == "" {
		return key
	}
	return where + ", " + key
}

// quoted shows what was written without letting it be long or do anything.
func quoted(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most]) + "…"
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r == utf8.RuneError || !unicode.IsPrint(r) {
			r = '�'
		}
		b.WriteRune(r)
	}
	b.WriteByte('"')
	return b.String()
}
