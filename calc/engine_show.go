package calc

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// Grain is how finely a number is known: its expanded uncertainty and the step of the gauge, in the kind's base unit; 0
// where unknown.
type Grain struct{ U, Step float64 }

// ShowFigure prints what was measured or computed, in both systems: to the place of the gauge or of the uncertainty,
// whichever is coarser, and never with invented digits.
func ShowFigure(kind quantity.Kind, x float64, g Grain) Shown {
	return inBoth(func(sys quantity.System) string { return showFigure(kind, sys, x, g) })
}

func inBoth(f func(quantity.System) string) Shown { return Shown{f(quantity.Metric), f(quantity.Inch)} }

func showFigure(kind quantity.Kind, sys quantity.System, x float64, g Grain) string {
	if kind == quantity.Angle && x >= 360 {
		return overTurns(x, places(kind, sys, g.U, g.Step))
	}
	u := unitOf(kind, sys, x, g.U)
	return unitAfter(numberIn(u, x, placesIn(u, kind, sys, g)), u)
}

// overTurns tells an angle beyond one turn as turns and angle: nobody finds 5600.7° on a wheel.
func overTurns(x float64, p int) string {
	step := math.Pow10(-p)
	x = math.Round(x/step) * step
	turns := math.Floor(x / 360)
	return fmt.Sprintf("%s and %s°", plurals(int(turns), "turn"), strconv.FormatFloat(math.Max(0, x-360*turns), 'f', max(0, p), 64))
}

// ShowLimit prints a limit: as it was given where a system has a short decimal for it, else converted, rounded inwards so
// that what is shown as allowed is allowed, and marked ≈.
func ShowLimit(kind quantity.Kind, x float64, lower bool) Shown {
	return inBoth(func(sys quantity.System) string {
		u := unitOf(kind, sys, x, 0)
		v := u.FromBase(x)
		if s, ok := shortDecimal(v, exactPlaces(kind, sys)); ok || kind == quantity.Expansion {
			return unitAfter(s, u)
		}
		p := math.Pow10(usualPlaces(kind, sys))
		if u.Code == "kN" {
			p = 100
		}
		if lower {
			v = math.Ceil(v*p-1e-6) / p
		} else {
			v = math.Floor(v*p+1e-6) / p
		}
		s, _ := shortDecimal(v, 12)
		return "≈ " + unitAfter(s, u)
	})
}

// exactPlaces is how many decimals a number may have that somebody wrote down in this system.
func exactPlaces(kind quantity.Kind, sys quantity.System) int {
	switch {
	case kind == quantity.Length && sys == quantity.Inch:
		return 5
	case kind == quantity.Length, kind == quantity.Number, kind == quantity.Density:
		return 4
	}
	return 3
}

// shortDecimal prints a number without trailing zeros; false where it needs more decimals than so many.
func shortDecimal(x float64, most int) (string, bool) {
	p := math.Pow10(most)
	r := math.Round(x*p) / p
	s := strconv.FormatFloat(r+0, 'f', most, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s, math.Abs(r-x) <= 1e-9*math.Max(1, math.Abs(x))
}

// ShowLimits prints a band in words: "0.048 to 0.053 in", "at most 0.0015 in"; empty where there is none.
func ShowLimits(kind quantity.Kind, l Limit) Shown {
	return inBoth(func(sys quantity.System) string {
		lower, upper := "", ""
		if l.Lower != nil {
			lower = ShowLimit(kind, *l.Lower, true).In(sys)
		}
		if l.Upper != nil {
			upper = ShowLimit(kind, *l.Upper, false).In(sys)
		}
		switch {
		case lower != "" && upper != "":
			return fromTo(lower, upper)
		case lower != "":
			return "at least " + lower
		case upper != "":
			return "at most " + upper
		}
		return ""
	})
}

// fromTo joins two limits: the unit is said once, and both have the same places, "0.006 to 0.010 in".
func fromTo(lower, upper string) string {
	lower, upper = samePlaces(lower, upper), samePlaces(upper, lower)
	_, unit, _ := strings.Cut(strings.TrimPrefix(lower, "≈ "), " ")
	if _, same, _ := strings.Cut(strings.TrimPrefix(upper, "≈ "), " "); same == unit && unit != "" {
		lower = strings.TrimSuffix(lower, " "+unit)
	}
	return lower + " to " + upper
}

// samePlaces gives a number the decimal places of another, where that has more.
func samePlaces(s, like string) string {
	more := decimalsOf(like) - decimalsOf(s)
	end := strings.LastIndexAny(s, "0123456789") + 1
	for i, c := range s { // of the number, not of the unit
		if i > 0 && strings.ContainsRune(" °", c) && strings.ContainsAny(s[:i], "0123456789") {
			end = i
			break
		}
	}
	if more <= 0 || end == 0 || strings.Contains(s[:end], "e") {
		return s
	}
	number := s[:end]
	if !strings.Contains(number, ".") {
		number += "."
	}
	return number + strings.Repeat("0", more) + s[end:]
}

// ShowGiven prints a number of the engine as it was given, in both systems: 71 mm is the bore on every drawing of it, and
// 2.795 in on none.
func ShowGiven(v quantity.Value) Shown {
	if !v.Valid() {
		return Shown{}
	}
	s := unitAfter(v.Digits(), v.Unit)
	return Shown{s, s}
}

// ShowReading prints a reading: as sent in its own system, in the other with the places its step is worth.
func ShowReading(v quantity.Value) Shown {
	if !v.Valid() {
		return Shown{}
	}
	return inBoth(func(sys quantity.System) string {
		u := sys.For(v.Kind())
		if v.Unit.Code == u.Code || v.Kind() != quantity.Length {
			return unitAfter(v.Digits(), v.Unit)
		}
		return unitAfter(v.Round(u, max(0, resolutionPlaces(v.Resolution()/u.Size))), u)
	})
}

// ShowLike prints a number in the unit and with the places of another text, so that what was told, what was done and what
// is left can be held against each other.
func ShowLike(kind quantity.Kind, x float64, like Shown) Shown {
	one := func(sys quantity.System, like string) string {
		if like == "" {
			return showFigure(kind, sys, x, Grain{})
		}
		u := sys.For(kind)
		for _, code := range []string{"thou", "kN"} {
			if other, err := quantity.UnitFor(kind, code); err == nil && strings.HasSuffix(like, " "+code) {
				u = other
			}
		}
		p := decimalsOf(like)
		if u.Code == "thou" {
			p = max(p, 1) // told in whole thou, done in what the gauge saw
		}
		return unitAfter(numberIn(u, x, p), u)
	}
	return Shown{one(quantity.Metric, like.MM), one(quantity.Inch, like.Inch)}
}

// decimalsOf counts the decimal places of the first number in a text.
func decimalsOf(text string) int {
	_, after, ok := strings.Cut(text, ".")
	if !ok {
		return 0
	}
	return len(after) - len(strings.TrimLeft(after, "0123456789"))
}

// millimetres finds the lengths in a sentence of a method, which are in mm.
var millimetres = regexp.MustCompile(`(-?\d+(?:\.\d+)?) mm\b`)

// InUnits turns the lengths of a sentence into a system's: a method's warnings and refusals are written in mm, with places
// enough that an inch loses nothing by one more.
func InUnits(text string, sys quantity.System) string {
	if sys != quantity.Inch {
		return text
	}
	return millimetres.ReplaceAllStringFunc(text, func(s string) string {
		number := strings.TrimSuffix(s, " mm")
		x, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return s
		}
		return strconv.FormatFloat(x/25.4, 'f', decimalsOf(number)+1, 64) + " in"
	})
}

// In picks a text's system.
func (s Shown) In(sys quantity.System) string {
	if sys == quantity.Inch {
		return s.Inch
	}
	return s.MM
}

// hand is how finely a hand can do what an adjustment says.
type hand struct {
	fine bool // tenths of a thou: honing, stretching, shims
	down bool // it takes material off: what stays can still come off
}

// handOf reads it off the direction.
func handOf(direction string) hand {
	switch direction {
	case "hone":
		return hand{fine: true, down: true}
	case "file", "grind", "deepen":
		return hand{down: true}
	case "fit", "remove", "tighten", "slacken":
		return hand{fine: true}
	}
	return hand{}
}

// steps are the steps of the hand in a unit, from what is usual to finer ones for what is less than one step.
func (h hand) steps(kind quantity.Kind, unit string, coarse bool) []float64 {
	switch {
	case kind == quantity.Length && unit == "thou" && !h.fine:
		return []float64{1, 0.1}
	case kind == quantity.Length && unit == "thou":
		return []float64{0.1}
	case kind == quantity.Length && unit == "in":
		return []float64{0.001}
	case kind == quantity.Length && !h.fine:
		return []float64{0.01, 0.001}
	case kind == quantity.Length:
		return []float64{0.001}
	case kind == quantity.Angle && coarse:
		return []float64{0.5, 0.1}
	case kind == quantity.Angle, kind == quantity.Mass:
		return []float64{0.1, 0.01}
	case kind == quantity.Torque:
		return []float64{0.5, 0.1}
	case unit == "flats":
		return []float64{0.25, 0.125}
	}
	return nil
}

// longLength is from where an inch length is said in inches and not in thou.
const longLength = 0.1 * 25.4

// coarseAngle is the uncertainty of an angle that is read from a wheel by eye, degrees.
const coarseAngle = 0.25

// flatsInWords says quarters as a hand counts them.
func flatsInWords(s string) string {
	part := map[string]string{"25": "¼", "5": "½", "75": "¾"}
	whole, rest, _ := strings.Cut(s, ".")
	switch {
	case s == "0.125":
		return "an eighth of a flat"
	case s == "0.25":
		return "a quarter of a flat"
	case s == "0.5":
		return "half a flat"
	case s == "0.75":
		return "three quarters of a flat"
	case s == "1":
		return "1 flat"
	case part[rest] != "":
		return whole + part[rest] + " flats"
	}
	return s + " flats"
}

// showOrder prints an amount that a hand is to do. What is less than half a step is told in finer steps rather than as
// nothing.
func showOrder(a Adjustment, kind quantity.Kind, sys quantity.System, x float64, g Grain) string {
	u := unitOf(kind, sys, x, g.U)
	if u.Code == "in" && math.Abs(x) < longLength {
		u, _ = quantity.UnitFor(quantity.Length, "thou")
	}
	h := handOf(a.Direction)
	name := u.Code
	if kind == quantity.Number {
		name = a.Unit
	}
	v := u.FromBase(x)
	s := ""
	if kind == quantity.Number && name == "flats" {
		s = "0" // less than the least that a hand can turn is nothing
	}
	for _, step := range h.steps(kind, name, g.U >= coarseAngle) {
		r := math.Round(v / step)
		if h.down {
			r = math.Trunc(v/step + math.Copysign(1e-6, v))
		}
		if r != 0 || v == 0 {
			s, _ = shortDecimal(r*step, 3)
			break
		}
	}
	if s == "" {
		p := placesIn(u, kind, sys, g)
		if kind == quantity.Number {
			p = figurePlaces(FigureResult{Kind: kind, U: g.U}, x, min(p, 2))
		}
		s = numberIn(u, x, p)
	}
	if kind == quantity.Angle && math.Abs(v) >= 360 {
		return overTurns(math.Abs(v), decimalsOf(s))
	}
	if kind == quantity.Number && a.Unit == "flats" {
		return flatsInWords(s)
	}
	if kind == quantity.Number && a.Unit != "" {
		return s + " " + a.Unit
	}
	return unitAfter(s, u)
}
