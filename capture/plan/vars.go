package plan

import (
	"fmt"
	"slices"
	"strings"
)

// vars is what the expansion writes for {cylinder}, {valve} and the names of "along", in the order they were set. In
// ids the value is written without blanks and points ("0.5 in" becomes "0-5in").
type vars []variable

type variable struct{ name, value string }

// with adds a variable; the slice it was called on is not changed.
func (v vars) with(name, value string) vars {
	return append(v[:len(v):len(v)], variable{name, value})
}

// without drops variables.
func (v vars) without(names ...string) vars {
	var out vars
	for _, x := range v {
		if !slices.Contains(names, x.name) {
			out = append(out, x)
		}
	}
	return out
}

func (v vars) get(name string) (string, bool) {
	for _, x := range v {
		if x.name == name {
			return x.value, true
		}
	}
	return "", false
}

// fill writes the variables out and leaves unknown ones as they are.
func (v vars) fill(s string) string {
	if len(v) == 0 || !strings.Contains(s, "{") {
		return s
	}
	for _, x := range v {
		s = strings.ReplaceAll(s, "{"+x.name+"}", x.value)
	}
	return s
}

// id writes the variables out as they stand in ids and references.
func (v vars) id(s string) string {
	if len(v) == 0 || !strings.Contains(s, "{") {
		return s
	}
	for _, x := range v {
		s = strings.ReplaceAll(s, "{"+x.name+"}", inID(x.value))
	}
	return s
}

func inID(value string) string {
	value = strings.ReplaceAll(value, " ", "")
	value = strings.ReplaceAll(value, ".", "-")
	return strings.ReplaceAll(value, "/", "-")
}

// hint says which variables there are, for messages.
func (v vars) hint() string {
	if len(v) == 0 {
		return "; nothing is expanded here"
	}
	names := make([]string, len(v))
	for i, x := range v {
		names[i] = "{" + x.name + "}"
	}
	return fmt.Sprintf("; known here: %s", strings.Join(names, ", "))
}

// leftover finds the first {name} that is still in a text, "" where there is none.
func leftover(s string) string {
	_, rest, ok := strings.Cut(s, "{")
	if !ok {
		return ""
	}
	name, _, ok := strings.Cut(rest, "}")
	if !ok {
		return rest
	}
	return name
}
