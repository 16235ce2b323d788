package view

import (
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Text is a text in both unit systems; the page shows the one that is chosen.
type Text = calc.Shown

// plain is a text that is the same in both.
func plain(s string) Text { return Text{MM: s, Inch: s} }

// Shown prints an exact value in both systems: as sent in its own, in the other with the places its resolution is worth.
func Shown(v quantity.Value) Text {
	if !v.Valid() {
		return plain("–")
	}
	return calc.ShowReading(v)
}

// both prints a number in its kind's base unit in both systems, to the place of the gauge.
func both(x float64, kind quantity.Kind, resolution float64) Text {
	return calc.ShowFigure(kind, x, calc.Grain{Step: resolution})
}

// Clock is a time of day, Day a date with it; times of the ledger are µs since 1970.
func Clock(us int64) string { return time.UnixMicro(us).Local().Format("15:04:05") }

// Day is a time, µs since 1970, as a date for people.
func Day(us int64) string { return time.UnixMicro(us).Local().Format("2006-01-02 15:04") }

// Moment is a date and a time of day to the second.
func Moment(us int64) string { return time.UnixMicro(us).Local().Format("2006-01-02 15:04:05") }

// Capital begins a sentence.
func Capital(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// Whole begins a sentence with a capital and ends it with a stop, where words were told without them.
func Whole(words string) string {
	if words == "" || strings.ContainsAny(words[len(words)-1:], ".?!") {
		return Capital(words)
	}
	return Capital(words) + "."
}

// Parted takes the unit off a text that is a number with one: "0.0112 in" is "0.0112" and "in".
func Parted(s string) (number, unit string) {
	i := strings.LastIndexAny(s, " \u00a0")
	if i < 0 || !strings.ContainsAny(s[:i], "0123456789") || strings.ContainsAny(s[i:], "0123456789") {
		return s, ""
	}
	return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i:])
}

// Typeset writes a text as a printer would: a space that does not break between a number and its unit, and a minus that is
// one.
func Typeset(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == ' ' && i > 0 && s[i-1] >= '0' && s[i-1] <= '9' && isUnit(s[i+1:]):
			r = '\u00a0'
		case r == '-' && (i == 0 || s[i-1] == ' ') && i+1 < len(s) && s[i+1] >= '0' && s[i+1] <= '9':
			r = '−'
		}
		b.WriteRune(r)
	}
	return b.String()
}

// TypesetBoth is Typeset in both systems.
func TypesetBoth(t Text) Text { return Text{MM: Typeset(t.MM), Inch: Typeset(t.Inch)} }

// isUnit reports whether a text begins with the code of a unit.
func isUnit(s string) bool {
	word, _, _ := strings.Cut(s, " ")
	word = strings.TrimRight(word, ".,;:)")
	_, err := quantity.UnitOf(word)
	return word != "" && err == nil
}
