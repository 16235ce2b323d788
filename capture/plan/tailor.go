package plan

import (
	"fmt"
	"slices"
	"strings"
)

// Tailoring is how a plan is cut to another engine without writing its language.
type Tailoring struct {
	Title     string            // "" leaves it
	Cylinders []string          // as seen from the rider's seat, left first; none leaves them
	Choices   map[string]string // of variants and groups, as Shape takes them
}

// Tailor cuts a plan to an engine: what it is called, its cylinders and their names, its variants and groups of steps. All
// else of the text stays as it is. Where the plan does not fit so many cylinders, or others of that name, the faults say
// where.
func Tailor(name string, text []byte, t Tailoring) ([]byte, error) {
	out, err := Shape(name, text, t.Choices)
	if err != nil {
		return nil, err
	}
	if len(t.Cylinders) > 0 {
		var quoted []string
		for _, c := range t.Cylinders {
			quoted = append(quoted, tomlText(c))
		}
		if out, err = replaced(name, out, "cylinders", "["+strings.Join(quoted, ", ")+"]"); err != nil {
			return nil, err
		}
	}
	if title := strings.TrimSpace(t.Title); title != "" {
		if out, err = replaced(name, out, "title", tomlText(title)); err != nil {
			return nil, err
		}
	}
	if _, err := Parse(name, out); err != nil {
		return nil, err
	}
	return out, nil
}

// replaced puts another value in place of a key's at the top of a text. What follows it on its line, a comment, stays.
func replaced(name string, text []byte, key, value string) ([]byte, error) {
	fs := &faults{file: name}
	root := parseTree(text, fs)
	if root == nil {
		return nil, fs.err()
	}
	i := slices.IndexFunc(root.keys, func(k field) bool { return k.name == key })
	if i < 0 {
		return nil, fmt.Errorf("plan %q has no %s", name, key)
	}
	from := offset(text, root.keys[i].pos)
	for from < len(text) && text[from] != '=' {
		from++
	}
	for from++; from < len(text) && (text[from] == ' ' || text[from] == '\t'); {
		from++
	}
	to, ok := endOfValue(text, from)
	if !ok {
		return nil, fmt.Errorf("plan %q: %s is not written as a text or a list on its own lines", name, key)
	}
	return []byte(string(text[:from]) + value + string(text[to:])), nil
}

// endOfValue is where a text in quotes, or a list of them, ends.
func endOfValue(text []byte, from int) (int, bool) {
	depth, quote := 0, byte(0)
	for i := from; i < len(text); i++ {
		c := text[i]
		switch {
		case quote == '"' && c == '\\':
			i++
		case quote != 0:
			if c == quote {
				quote = 0
				if depth == 0 {
					return i + 1, true
				}
			}
		case c == '#' && depth > 0:
			for i+1 < len(text) && text[i+1] != '\n' {
				i++
			}
		case c == '"', c == '\'':
			quote = c
		case c == '[':
			depth++
		case c == ']':
			if depth--; depth == 0 {
				return i + 1, true
			}
		case depth == 0:
			return 0, false
		}
	}
	return 0, false
}
