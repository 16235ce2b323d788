package calc

import "strings"

// Counted puts what a plain number counts behind it: "0.3 flats", "9.4 : 1", "1 turn". Unit is a Figure's, or a plan's.
func (s Shown) Counted(unit string) Shown { return Shown{counted(s.MM, unit), counted(s.Inch, unit)} }

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
