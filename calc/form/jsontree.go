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

const deepestJSON = 16

// parseJSON reads one JSON value and nothing after it.
func parseJSON(b []byte) (node, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
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

func parseNode(dec *json.Decoder, depth int, path string) (node, error) {
	if depth > deepestJSON {
		return nil, bad("input", "lists within lists without end", "one JSON object")
	}
	tok, err := dec.Token()
	if err != nil {
		return nil, syntaxError(dec, err)
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

func parseObject(dec *json.Decoder, depth int, path string) (node, error) {
	o := object{fields: map[string]node{}}
	for dec.More() {
		tok, err := dec.Token()
		if err != nil {
			return nil, syntaxError(dec, err)
		}
		name, _ := tok.(string)
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

func syntaxError(dec *json.Decoder, err error) error {
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
