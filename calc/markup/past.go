package markup

import (
	"fmt"
	"strings"
)

const space = " \t\n\f\r"

// past gives the place after a piece of a template's own text.
func (at place) past(text string) (place, error) {
	for text != "" {
		var err error
		if at, text, err = at.step(text); err != nil {
			return at, err
		}
	}
	return at.tidy(), nil
}

// step goes on to where the place changes, and gives the text that is left.
func (at place) step(text string) (place, string, error) {
	switch at.in {
	case between:
		return at.toTag(text)
	case raw:
		return at.toEnd(text)
	case value:
		return at.toQuote(text)
	}
	return at.inTag(text)
}

func (at place) toTag(text string) (place, string, error) {
	_, rest, ok := strings.Cut(text, "<")
	if !ok {
		return at, "", nil
	}
	if strings.HasPrefix(rest, "!--") {
		return at, "", fmt.Errorf("a comment that would be sent: write {{/* it */}} so")
	}
	name := strings.TrimPrefix(rest, "/")
	closing := len(name) < len(rest)
	n := 0
	for n < len(name) && (isLetter(name[n]) || n > 0 && (name[n] >= '0' && name[n] <= '9' || name[n] == '-' || name[n] == ':')) {
		n++
	}
	if n == 0 && strings.HasPrefix(strings.ToLower(rest), "!doctype ") {
		return at, rest, nil
	}
	if n == 0 {
		return at, "", fmt.Errorf("a < that begins no tag: write &lt;")
	}
	to := place{in: tag}
	if !closing {
		to.element = strings.ToLower(name[:n])
	}
	return to, name[n:], nil
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// toEnd goes to the end tag of an element with raw text.
func (at place) toEnd(text string) (place, string, error) {
	low := strings.ToLower(text)
	i := strings.Index(low, "</"+at.element)
	if i < 0 {
		return at, "", nil
	}
	return place{in: tag}, text[i+2+len(at.element):], nil
}

func (at place) toQuote(text string) (place, string, error) {
	end := strings.IndexByte(text, at.quote)
	within := text
	if end >= 0 {
		within = text[:end]
	}
	switch {
	case strings.ContainsAny(within, "?#"):
		at.address = query
	case at.address == start && strings.Trim(within, space) != "":
		at.address = route
	}
	if end < 0 {
		return at, "", nil
	}
	return place{in: tag, element: at.element}, text[end+1:], nil
}

// inTag goes over one attribute, or to the tag's end.
func (at place) inTag(text string) (place, string, error) {
	text = strings.TrimLeft(text, space+"/")
	switch {
	case text == "":
		return at, "", nil
	case text[0] == '>':
		switch at.element {
		case "script", "style", "title", "textarea":
			return place{in: raw, element: at.element}, text[1:], nil
		}
		return place{}, text[1:], nil
	}
	n := strings.IndexAny(text, space+"=/>\"'<")
	if n < 0 {
		return at, "", nil // a name that ends the text: one without a value
	}
	if n == 0 {
		return at, "", fmt.Errorf("a tag goes on with %q", text[:1])
	}
	name, rest := text[:n], text[n:]
	if rest[0] != '=' {
		return at, rest, nil
	}
	rest = rest[1:]
	if rest == "" {
		return at, "", fmt.Errorf("the attribute %s has no quotes around its value", name)
	}
	if q := rest[0]; q == '"' || q == '\'' {
		return place{in: value, element: at.element, attr: strings.ToLower(name), quote: q}, rest[1:], nil
	}
	end := strings.IndexAny(rest, space+">")
	if end <= 0 {
		return at, "", fmt.Errorf("the attribute %s has no quotes around its value", name)
	}
	return at, rest[end:], nil
}
