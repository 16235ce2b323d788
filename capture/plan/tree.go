package plan

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// The largest file and the deepest nesting that are looked at.
const (
	maxText  = 1 << 19
	maxDepth = 16
)

// form is what a node of the file is.
type form int

const (
	formText form = iota
	formNumber
	formFlag
	formOther // dates and times, which a plan has no use for
	formList
	formTable
)

func (f form) String() string {
	return [...]string{"a text", "a number", "true or false", "a date or time", "a list", "a table"}[f]
}

// node is one value of the file with its place. go-toml gives no positions after decoding, so the file is kept as this
// tree and decoded from it: that way every fault is found at once and each has its line and column.
type node struct {
	pos
	form  form
	text  string  // of a text decoded, of a number or flag as written
	items []*node // of a list
	keys  []field // of a table, in the order of the file
}

// field is one key of a table with the key's own place.
type field struct {
	pos
	name string
	val  *node
}

// get finds a key's value; nil where it isn't there.
func (n *node) get(name string) *node {
	if n == nil || n.form != formTable {
		return nil
	}
	for i := range n.keys {
		if n.keys[i].name == name {
			return n.keys[i].val
		}
	}
	return nil
}

// at gives the place of the deepest part of a path that is there: names of keys, or an int for an element.
func (n *node) at(path ...any) pos {
	p := n.pos
	for _, step := range path {
		switch s := step.(type) {
		case string:
			next := n.get(s)
			if next == nil {
				return p
			}
			n = next
		case int:
			if n.form != formList || s >= len(n.items) {
				return p
			}
			n = n.items[s]
		}
		p = n.pos
	}
	return p
}

// builder makes the tree from the parser's expressions.
type builder struct {
	text   []byte
	starts []int // offsets of line starts
	p      unstable.Parser
	fs     *faults
	stop   bool // what was found makes no sense to go on with
	deep   bool // nested too deep to be decoded
}

// refuse notes a fault after which reading stops.
func (b *builder) refuse(at pos, format string, args ...any) {
	b.fs.add(at, "", format, args...)
	b.stop = true
}

// key gives one part of a key and its place; a hostile key is refused, because paths are made of keys.
func (b *builder) key(n *unstable.Node, in *node, part int) (string, pos) {
	key := string(n.Data)
	at := b.place(n.Raw, in.path)
	if len(in.keys) > maxList { // the decoder's time grows with the square
		b.deep = true
		b.refuse(at, "more than %d keys in one table", maxList)
		return "", at
	}
	if len(key) > longID || part > maxDepth {
		b.deep = true
		b.refuse(at, "a key of more than %d characters or %d parts", longID, maxDepth)
		return "", at
	}
	at.path = join(in.path, key)
	return key, at
}

// parseTree reads the whole file; nil where it is not TOML (the faults are noted).
func parseTree(text []byte, fs *faults) *node {
	if len(text) > maxText {
		fs.add(pos{1, 1, ""}, "", "the file has %d bytes; at most %d are read", len(text), maxText)
		return nil
	}
	b := &builder{text: text, starts: []int{0}, fs: fs}
	for i, c := range text {
		if c == '\n' {
			b.starts = append(b.starts, i+1)
		}
	}
	root := &node{pos: pos{1, 1, ""}, form: formTable}
	b.p.Reset(text)
	cur := root
	for b.p.NextExpression() {
		e := b.p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			cur = b.header(root, e)
		case unstable.KeyValue:
			b.keyValue(cur, e, 0)
		}
		if b.stop || cur == nil {
			break
		}
	}
	// The library's decoder holds TOML's own rules (no key twice, no table reopened). It is asked after the walk, which
	// refuses what is nested too deep for it. Its word on what is wrong goes before the walk's.
	if !b.deep && !notTOML(text, fs) || b.stop {
		return nil
	}
	return root
}

// maxSyntax is how many lines that are not TOML are looked for.
const maxSyntax = 20

// notTOML reports what breaks the rules of TOML, and false where something does. The decoder stops at the first
// mistake; a line with a mistake is therefore blanked and the rest looked at again, as long as the line is a key and
// its value, for then nothing after it changes its meaning.
func notTOML(text []byte, fs *faults) bool {
	ok := true
	for range maxSyntax {
		var any map[string]any
		err := toml.Unmarshal(text, &any)
		if err == nil {
			return ok
		}
		if ok {
			fs.list = nil
		}
		ok = false
		var de *toml.DecodeError
		if !errors.As(err, &de) {
			fs.add(pos{1, 1, ""}, "", "not TOML: %v", err)
			return false
		}
		line, col := de.Position()
		fs.add(pos{line, col, ""}, "", "not TOML: %s", strings.TrimPrefix(de.Error(), "toml: "))
		if text = blankLine(text, line); text == nil {
			return false
		}
	}
	return ok
}

// blankLine gives the text with one line blanked; nil where that line is not a key and its value.
func blankLine(text []byte, line int) []byte {
	lines := bytes.Split(text, []byte("\n"))
	if line < 1 || line > len(lines) {
		return nil
	}
	was := bytes.TrimSpace(lines[line-1])
	if len(was) == 0 || was[0] == '[' || was[0] == '{' || !bytes.Contains(was, []byte("=")) {
		return nil
	}
	lines[line-1] = nil
	return bytes.Join(lines, []byte("\n"))
}

func (b *builder) place(r unstable.Range, path string) pos {
	off := int(r.Offset)
	line := sort.SearchInts(b.starts, off+1)
	return pos{line, off - b.starts[line-1] + 1, path}
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// header walks to the table a [header] or [[header]] opens.
func (b *builder) header(root *node, e *unstable.Node) *node {
	cur := root
	it := e.Key()
	for part := 1; it.Next(); part++ {
		last := it.IsLast()
		key, at := b.key(it.Node(), cur, part)
		if b.stop {
			return nil
		}
		next := cur.get(key)
		many := last && e.Kind == unstable.ArrayTable
		if next == nil {
			next = &node{pos: at, form: formTable}
			if many {
				next = &node{pos: at, form: formList}
			}
			cur.keys = append(cur.keys, field{at, key, next})
		}
		if next.form == formList {
			if many {
				at.path = fmt.Sprintf("%s[%d]", next.path, len(next.items)+1)
				next.items = append(next.items, &node{pos: at, form: formTable})
			}
			if len(next.items) == 0 {
				b.refuse(at, "%s is a list without tables", quoted(key))
				return nil
			}
			next = next.items[len(next.items)-1]
		}
		if next.form != formTable {
			b.refuse(at, "%s is %s already", quoted(key), next.form)
			return nil
		}
		cur = next
	}
	return cur
}

// keyValue puts one "a.b = value" into a table.
func (b *builder) keyValue(cur *node, e *unstable.Node, depth int) {
	it := e.Key()
	for part := 1; it.Next(); part++ {
		key, at := b.key(it.Node(), cur, part)
		if b.stop {
			return
		}
		if it.IsLast() {
			val := b.value(e.Value(), at, depth)
			cur.keys = append(cur.keys, field{at, key, val})
			return
		}
		next := cur.get(key)
		if next == nil {
			next = &node{pos: at, form: formTable}
			cur.keys = append(cur.keys, field{at, key, next})
		}
		if next.form != formTable {
			b.refuse(at, "%s is %s already", quoted(key), next.form)
			return
		}
		cur = next
	}
}

// value makes the node of a value; at is the place of its key, kept for lists and tables, which have none of their own.
func (b *builder) value(v *unstable.Node, at pos, depth int) *node {
	n := &node{pos: at}
	if depth > maxDepth {
		b.deep = true
		b.refuse(at, "nested more than %d deep", maxDepth)
		n.form = formOther
		return n
	}
	if v.Raw.Length > 0 {
		n.pos = b.place(v.Raw, at.path)
	}
	switch v.Kind {
	case unstable.String:
		n.form, n.text = formText, string(v.Data)
	case unstable.Integer, unstable.Float:
		n.form, n.text = formNumber, string(v.Data)
	case unstable.Bool:
		n.form, n.text = formFlag, string(v.Data)
	case unstable.Array:
		n.form = formList
		it := v.Children()
		for it.Next() {
			at.path = fmt.Sprintf("%s[%d]", n.path, len(n.items)+1)
			n.items = append(n.items, b.value(it.Node(), at, depth+1))
		}
	case unstable.InlineTable:
		n.form = formTable
		it := v.Children()
		for it.Next() {
			b.keyValue(n, it.Node(), depth+1)
		}
	default:
		n.form, n.text = formOther, string(v.Data)
	}
	return n
}
