package sheet

import (
	"math"
	"regexp"
	"strconv"
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

// shownValue shows a quantity as sent in its own system, and in the other with no finer digits than it was sent with.
func shownValue(v quantity.Value) calc.Shown {
	if !v.Valid() {
		return calc.Shown{}
	}
	return both(func(sys quantity.System) string {
		u := sys.For(v.Kind())
		if v.Unit.Code == u.Code || v.Kind() != quantity.Length {
			return withUnit(v.Digits(), v.Unit)
		}
		places := max(0, int(math.Ceil(-math.Log10(v.Resolution()/u.Size)-1e-9)))
		return withUnit(v.Round(u, places), u)
	})
}

// shownNumber shows a given number (a limit, a stated repeatability) with the digits it has: a length to a hundredth of
// a thousandth of an inch or a tenth of a micrometre, anything else to four significant digits.
func shownNumber(kind quantity.Kind, x float64) calc.Shown {
	return both(func(sys quantity.System) string {
		u := sys.For(kind)
		x := u.FromBase(x)
		if kind != quantity.Length {
			return withUnit(significant(x, 4), u)
		}
		places := 4
		if sys == quantity.Inch {
			places = 5
		}
		return withUnit(trimmed(x, places), u)
	})
}

// shownPlaces shows a number with fixed places.
func shownPlaces(kind quantity.Kind, x float64, places calc.Shown) calc.Shown {
	return both(func(sys quantity.System) string {
		u := sys.For(kind)
		return withUnit(fixed(u.FromBase(x), decimals(in(places, sys))), u)
	})
}

// significant rounds to so many significant digits and writes no exponent.
func significant(x float64, digits int) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return strconv.FormatFloat(x, 'g', -1, 64)
	}
	return trimmed(x, max(0, digits-1-int(math.Floor(math.Log10(math.Abs(x))))))
}

func fixed(x float64, places int) string {
	s := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

func trimmed(x float64, places int) string {
	s := strconv.FormatFloat(x, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

// decimals counts the decimal places of the first number in a text.
func decimals(text string) int {
	_, after, ok := strings.Cut(text, ".")
	if !ok {
		return 0
	}
	n := 0
	for n < len(after) && after[n] >= '0' && after[n] <= '9' {
		n++
	}
	return n
}

func withUnit(number string, u quantity.Unit) string {
	switch {
	case u.Code == "":
		return number
	case u.Kind == quantity.Angle:
		return number + "°"
	case u.Kind == quantity.Temperature:
		return number + " °C"
	}
	return number + " " + unitName(u)
}

// unitName is a unit as people write it.
func unitName(u quantity.Unit) string {
	switch u.Code {
	case "N.m":
		return "N·m"
	case "lbf.ft":
		return "lbf·ft"
	case "lbf.in":
		return "lbf·in"
	case "N/mm2":
		return "N/mm²"
	case "mm2", "in2":
		return u.Code[:2] + "²"
	case "cm3", "in3":
		return u.Code[:2] + "³"
	case "g/cm3":
		return "g/cm³"
	case "um":
		return "µm"
	case "degC":
		return "°C"
	}
	return u.Code
}

// shownLimit is a limit in words: "0.048 to 0.052 in", "at most 0.0015 in".
func shownLimit(kind quantity.Kind, l calc.Limit) calc.Shown {
	return both(func(sys quantity.System) string {
		lower, upper := "", ""
		if l.Lower != nil {
			lower = in(shownNumber(kind, *l.Lower), sys)
		}
		if l.Upper != nil {
			upper = in(shownNumber(kind, *l.Upper), sys)
		}
		switch {
		case lower != "" && upper != "":
			// Both ends with the same places: 0.006 to 0.010 in.
			u := sys.For(kind)
			if places := max(decimals(lower), decimals(upper)); !strings.ContainsAny(lower+upper, "eE") {
				lower, upper = withUnit(fixed(u.FromBase(*l.Lower), places), u), withUnit(fixed(u.FromBase(*l.Upper), places), u)
			}
			return strings.TrimSuffix(lower, withUnit("", u)) + " to " + upper
		case lower != "":
			return "at least " + lower
		case upper != "":
			return "at most " + upper
		}
		return ""
	})
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
