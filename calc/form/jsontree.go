package form

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"thoud/calc"
)

// node is one value of a JSON text: string, json.Number, bool, nil, []node or object. It is read here rather than into
// a map, because a name given twice must be refused: one of the two would silently win.
type node any

type object struct {
	names  []string
	fields map[string]node
}

// Bounds of what is read: beyond them no request has anything to say, and reading on would only take time.
const (
	deepestJSON = 16
	mostNodes   = 200_000
	longestText = 10_000 // bytes of one text or number
)

// parser reads a JSON text up to so many values.
type parser struct {
	*json.Decoder
	nodes int
}

// parseJSON reads one JSON value and nothing after it.
func parseJSON(b []byte) (node, error) {
	dec := &parser{Decoder: json.NewDecoder(bytes.NewReader(b))}
	dec.UseNumber()
	n, err := parseNode(dec, 0, "")
	if err != nil {
		return nil, err
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, bad("input", "more after the end of the object", "one JSON object")
	}
	return n, nil
}

func parseNode(dec *parser, depth int, path string) (node, error) {
	if depth > deepestJSON {
		return nil, bad("input", "lists within lists without end", "one JSON object")
	}
	if dec.nodes++; dec.nodes > mostNodes {
		return nil, bad("input", fmt.Sprintf("more than %d values", mostNodes), "one request: thin a sweep out, or give it in parts")
	}
	tok, err := dec.Token()
	if err != nil {
		return nil, syntaxError(dec, err)
	}
	if long := tokenLength(tok); long > longestText {
		return nil, bad(path, fmt.Sprintf("a text of %d bytes", long), fmt.Sprintf("at most %d", longestText))
	}
	switch tok {
	case json.Delim('{'):
		return parseObject(dec, depth, path)
	case json.Delim('['):
		list := []node{}
		for dec.More() {
			n, err := parseNode(dec, depth+1, fmt.Sprintf("%s[%d]", path, len(list)))
			if err != nil {
				return nil, err
			}
			list = append(list, n)
		}
		if _, err := dec.Token(); err != nil {
			return nil, syntaxError(dec, err)
		}
		return list, nil
	}
	return tok, nil
}

// tokenLength is how long a text or a number is.
func tokenLength(tok json.Token) int {
	switch t := tok.(type) {
	case string:
		return len(t)
	case json.Number:
		return len(t)
	}
	return 0
}

func parseObject(dec *parser, depth int, path string) (node, error) {
	o := object{fields: map[string]node{}}
	for dec.More() {
		tok, err := dec.Token()
		if err != nil {
			return nil, syntaxError(dec, err)
		}
		name, _ := tok.(string)
		if len(name) > longestText {
			return nil, bad("input", fmt.Sprintf("a name of %d bytes", len(name)), "one of the inputs' names")
		}
		at := strings.TrimPrefix(path+"."+name, ".")
		if _, twice := o.fields[name]; twice {
			return nil, bad(at, "two values", "one")
		}
		n, err := parseNode(dec, depth+1, at)
		if err != nil {
			return nil, err
		}
		o.names = append(o.names, name)
		o.fields[name] = n
	}
	if _, err := dec.Token(); err != nil {
		return nil, syntaxError(dec, err)
	}
	return o, nil
}

func syntaxError(dec *parser, err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = errors.New("it ends too early")
	}
	return bad("input", fmt.Sprintf("text that is no JSON at byte %d (%v)", dec.InputOffset(), err), "one JSON object")
}

// bad is the fault of a field.
func bad(field, got, want string) error {
	return &calc.InputError{Field: field, Value: got, Want: want}
}

// describe shows a node as it was given, shortened, for an error.
func describe(n node) string {
	switch n := n.(type) {
	case nil:
		return "null"
	case string:
		return shorten(fmt.Sprintf("%q", n))
	case json.Number:
		return shorten(n.String())
	case bool:
		return fmt.Sprint(n)
	case []node:
		if len(n) == 0 {
			return "an empty list"
		}
		return fmt.Sprintf("a list of %d", len(n))
	case object:
		return shorten("an object with " + strings.Join(n.names, ", "))
	}
	return "something else"
}

func shorten(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "…"
	}
	return s
}
