package sheet

import (
	"regexp"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
)

// in picks a text's system.
func in(s calc.Shown, sys quantity.System) string {
	if sys == quantity.Inch {
		return s.Inch
	}
	return s.MM
}

// shown is in, with a true minus before a number.
func shown(s calc.Shown, sys quantity.System) string { return minus(in(s, sys)) }

var hyphenNumber = regexp.MustCompile(`(^|[\s(/±])-(\d)`)

// minus makes a hyphen that stands before a number a minus; one inside a name or a date stays.
func minus(s string) string { return hyphenNumber.ReplaceAllString(s, "${1}\u2212${2}") }

// both makes a text for each system.
func both(f func(quantity.System) string) calc.Shown {
	return calc.Shown{MM: f(quantity.Metric), Inch: f(quantity.Inch)}
}

// when is a time as on a sheet, "" for none.
func when(us int64) string {
	if us == 0 {
		return ""
	}
	return time.UnixMicro(us).UTC().Format(time.RFC3339)
}

// clock is a time for people: the day and the minute in the sheet's zone, with the zone where it is asked for.
func (o Options) clock(at string, zone bool) string {
	t, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return at
	}
	where := o.Zone
	if where == nil {
		where = time.UTC
	}
	if zone {
		return t.In(where).Format("2006-01-02 15:04 MST")
	}
	return t.In(where).Format("2006-01-02 15:04")
}

// day is the date alone.
func (o Options) day(at string) string {
	day, _, _ := strings.Cut(o.clock(at, false), " ")
	return day
}

// zoneName is the sheet's zone with its distance from UTC, as it was when the sheet was made.
func (o Options) zoneName(made string) string {
	t, err := time.Parse(time.RFC3339, made)
	if err != nil || o.Zone == nil {
		return "UTC"
	}
	name, offset := t.In(o.Zone).Zone()
	if offset == 0 {
		return name
	}
	return name + ", UTC" + t.In(o.Zone).Format("-07:00")
}
