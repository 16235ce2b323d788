package calc

import (
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

// Wanted says in words what an input expects, with an example.
func (in Input) Wanted() string {
	switch in.Shape {
	case List:
		return "a list of " + plural(in)
	case Grid:
		return "a list of lists of " + plural(in)
	case Cube:
		return "a list of lists of lists of " + plural(in)
	case Text:
		if len(in.Enum) > 0 {
			return "one of \"" + strings.Join(in.Enum, "\", \"") + "\""
		}
		return "a text"
	case TextList:
		if len(in.Enum) > 0 {
			return "a list of \"" + strings.Join(in.Enum, "\", \"") + "\""
		}
		return "a list of texts"
	case Flag:
		return "true or false"
	case Record:
		return "an object with " + fieldList(in.Fields)
	case Records:
		return "a list of objects with " + fieldList(in.Fields)
	}
	s := one(in.Kind)
	if in.Positive {
		s += ", more than zero"
	}
	return s
}

func fieldList(fields []Input) string {
	if len(fields) == 1 && fields[0].Name == AnyName {
		return "named fields, each " + fields[0].Wanted()
	}
	return InputNames(fields)
}

func plural(in Input) string {
	s := "quantities like " + Example(in.Kind)
	switch in.Kind {
	case quantity.Number:
		s = "numbers"
	case AnyKind:
		s = "quantities or plain numbers, all of one kind"
	}
	if in.Positive {
		s += ", each more than zero"
	}
	return s
}

func one(kind quantity.Kind) string {
	switch kind {
	case quantity.Number:
		return "a number"
	case AnyKind:
		return "a quantity or a plain number"
	case quantity.Angle, quantity.Area:
		return fmt.Sprintf("an %s, as %s", kind, Example(kind))
	case quantity.Difference:
		return "a difference of temperature, as " + Example(kind)
	case quantity.Expansion:
		return "a coefficient of expansion, as " + Example(kind)
	}
	return fmt.Sprintf("a %s, as %s", kind, Example(kind))
}

// Example is a quantity of this kind as a builder would write it.
func Example(kind quantity.Kind) string {
	switch kind {
	case quantity.Length:
		return `"0.0375 in"`
	case quantity.Angle:
		return `"28 deg"`
	case quantity.Mass:
		return `"285 g"`
	case quantity.Pitch:
		return `"26 tpi"`
	case quantity.Temperature:
		return `"20 degC"`
	case quantity.Expansion:
		return `"0.0000115 1/K"`
	case quantity.Number:
		return `0.004`
	case quantity.Density:
		return `"7.85 g/cm3"`
	}
	return fmt.Sprintf("%q", "10 "+quantity.Base(kind).Code)
}
