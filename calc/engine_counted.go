package calc

import (
	"regexp"
	"strings"
)

// Counted puts what a plain number counts behind it: "0.3 flats", "9.4 : 1", "1 turn". Unit is a Figure's, or a plan's.
func (s Shown) Counted(unit string) Shown { return Shown{counted(s.MM, unit), counted(s.Inch, unit)} }

// amounts are the numbers in the reason of a verdict that a unit belongs to.
var amounts = regexp.MustCompile(`((?:at least|outside by|uncertainty of|make it) \d+(?:\.\d+)?|\d+(?:\.\d+)? from the limit)`)

// CountedIn puts what a plain number counts into the reason of its verdict: "outside by 3 s".
func CountedIn(reason, unit string) string {
	if unit == "" || strings.HasPrefix(unit, ":") {
		return reason
	}
	return amounts.ReplaceAllStringFunc(reason, func(s string) string {
		if before, ok := strings.CutSuffix(s, " from the limit"); ok {
			return before + " " + unit + " from the limit"
		}
		return s + " " + unit
	})
}

// CountedU is Counted of an uncertainty: that of a ratio is no ratio.
func (s Shown) CountedU(unit string) Shown {
	if strings.HasPrefix(unit, ":") {
		return s
	}
	return s.Counted(unit)
}

// single are the words for one of what is counted.
var single = map[string]string{"flats": "flat", "turns": "turn", "teeth": "tooth", "steps": "step", "readings": "reading", "sets": "set", "shims": "shim"}

func counted(s, unit string) string {
	if s == "" || unit == "" || !strings.ContainsAny(s, "0123456789") {
		return s
	}
	if one, ok := single[unit]; ok && (s == "1" || s == "-1") {
		unit = one
	}
	return s + " " + unit
}
