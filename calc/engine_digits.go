package calc

import (
	"math"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// usualPlaces are the decimal places a kind is shown with in a system where the uncertainty does not say otherwise:
// ten-thousandths of an inch and thousandths of a millimetre for lengths (common practice).
func usualPlaces(kind quantity.Kind, sys quantity.System) int {
	inch := sys == quantity.Inch
	switch kind {
	case quantity.Length:
		return pick(inch, 4, 3)
	case quantity.Pitch:
		return 4
	case quantity.Angle, quantity.Mass:
		return 1
	case quantity.Force, quantity.Stress, quantity.Temperature, quantity.Difference:
		return 0
	case quantity.Torque:
		return 1
	case quantity.Stiffness:
		return pick(inch, 1, 2)
	case quantity.Volume:
		return pick(inch, 2, 1)
	case quantity.Area:
		return pick(inch, 4, 2)
	case quantity.Slope:
		return pick(inch, 5, 4)
	case quantity.Density:
		return 3
	}
	return 4
}

func pick(cond bool, a, b int) int {
	if cond {
		return a
	}
	return b
}

// places are the decimal places worth showing: two significant digits of U at most, no more than is usual unless one
// digit of U needs them, and none finer than the reading's own resolution allows where no U is known. u and resolution
// are in the kind's base unit; 0 is unknown. Negative places round to tens, hundreds and so on.
func places(kind quantity.Kind, sys quantity.System, u, resolution float64) int {
	usual := usualPlaces(kind, sys)
	unit := sys.For(kind)
	// Below the step in which values are compared an uncertainty is rounding of the arithmetic, not of the bench.
	if u >= quantum(kind) && unit.Size > 0 {
		u /= unit.Size
		two, one := 1-exponent(u), -exponent(u)
		p := min(two, max(usual, one))
		if resolution > 0 {
			// A figure may be known far better than the gauges at hand can show: their own places are enough.
			p = min(p, max(usual, resolutionPlaces(resolution/unit.Size)))
		}
		return clamp(p, -12, 12)
	}
	if resolution > 0 {
		return clamp(resolutionPlaces(resolution/unit.Size), 0, 12)
	}
	return usual
}

// resolutionPlaces is the first place that is not coarser than a resolution: 0.0005 in needs four, a hundredth of a mm in
// inches too.
func resolutionPlaces(resolution float64) int {
	return int(math.Ceil(-math.Log10(resolution) - 1e-9))
}

// mostDigits is how many significant digits a number without uncertainty is shown with at most.
const mostDigits = 6

func exponent(x float64) int {
	// 0.0996 rounds to 0.10 at two digits, so the exponent is that of the rounded number.
	s := strconv.FormatFloat(x, 'e', 1, 64)
	e, _ := strconv.Atoi(s[strings.IndexByte(s, 'e')+1:])
	return e
}

func clamp(x, lo, hi int) int { return max(lo, min(hi, x)) }

// unitOf is the unit a number is shown in: the system's, and kN from 1000 N on where its uncertainty is no finer than that
// shows. Masses stay in grams everywhere: an engine's parts are weighed on one scale.
func unitOf(kind quantity.Kind, sys quantity.System, x, u float64) quantity.Unit {
	unit := sys.For(kind)
	if unit.Code == "N" && math.Abs(x) >= 1000 && (u == 0 || u >= 50) {
		unit, _ = quantity.UnitFor(quantity.Force, "kN")
	}
	return unit
}

// placesIn are the decimal places worth showing in a unit.
func placesIn(u quantity.Unit, kind quantity.Kind, sys quantity.System, g Grain) int {
	if u.Code == "kN" {
		if g.U == 0 {
			return 1
		}
		return clamp(1-exponent(g.U/u.Size), 0, 1)
	}
	p := places(kind, sys, g.U, g.Step)
	if u.Code == "thou" {
		p -= 3
	}
	return p
}

// number prints x, in the kind's base unit, in a system with so many places, without a minus before nothing.
func number(kind quantity.Kind, sys quantity.System, x float64, places int) string {
	return numberIn(sys.For(kind), x, places)
}

func numberIn(u quantity.Unit, x float64, places int) string {
	if u.Kind == quantity.Expansion {
		return strconv.FormatFloat(x, 'e', 2, 64)
	}
	x = u.FromBase(x)
	if x != 0 && places > 0 && exponent(x)+places >= mostDigits && u.Kind != quantity.Length && u.Kind != quantity.Angle {
		places = max(0, mostDigits-1-exponent(x))
	}
	p := math.Pow10(places)
	if r := math.Round(x*p) / p; finite(r) {
		x = r
	}
	if x == 0 {
		x = 0
	}
	s := strconv.FormatFloat(x, 'f', max(places, 0), 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

func withUnit(s string, kind quantity.Kind, sys quantity.System) string {
	return unitAfter(s, sys.For(kind))
}

// unitAfter puts a unit behind a number, as people write it.
func unitAfter(s string, u quantity.Unit) string {
	switch {
	case u.Code == "":
		return s
	case u.Kind == quantity.Angle:
		return s + "°"
	}
	return s + " " + UnitName(u)
}

// unitWords turns a unit's code into how people write it.
var unitWords = strings.NewReplacer("N.m", "N·m", "lbf.", "lbf·", "mm2", "mm²", "in2", "in²", "cm3", "cm³", "in3", "in³")

// UnitName is a unit as people write it.
func UnitName(u quantity.Unit) string {
	switch u.Code {
	case "um":
		return "µm"
	case "degC":
		return "°C"
	}
	return unitWords.Replace(u.Code)
}

// grain is how finely a figure of this kind is known; Digits is the step of what measures lengths.
func (r Request) grain(kind quantity.Kind, u float64) Grain {
	if kind != quantity.Length {
		return Grain{U: u}
	}
	return Grain{u, r.Digits}
}

// brief prints a number for a warning: three significant digits.
func brief(x float64) string { return strconv.FormatFloat(x, 'g', 3, 64) }

func unitSuffix(kind quantity.Kind) string {
	if code := quantity.Base(kind).Code; code != "" && kind != AnyKind {
		return " " + code
	}
	return ""
}

// renderFigure fills in what people read: the value in both systems, and U.
func renderFigure(fr *FigureResult, req Request) {
	if fr.Text != nil {
		s := strings.Join(fr.Text, ", ")
		fr.Shown = Shown{s, s}
		return
	}
	fr.Shown = Shown{shownIn(*fr, quantity.Metric, req), shownIn(*fr, quantity.Inch, req)}
	if fr.AtLeast {
		fr.Shown = Shown{"at least " + fr.Shown.MM, "at least " + fr.Shown.Inch}
	}
	if fr.U >= quantum(fr.Kind) {
		g := req.grain(fr.Kind, fr.U)
		fr.ShownU = inBoth(func(sys quantity.System) string {
			u := unitOf(fr.Kind, sys, fr.largest(), fr.U)
			s := numberIn(u, fr.U, placesIn(u, fr.Kind, sys, g))
			if isNothing(s) { // known better than the gauge's places show
				s = numberIn(u, fr.U, -exponent(fr.U/u.Size))
			}
			return "± " + unitAfter(s, u)
		})
	}
}

// largest is the figure's largest number, which decides the unit of all of them.
func (f FigureResult) largest() float64 {
	all := f.List
	if f.Value != nil {
		return math.Abs(*f.Value)
	}
	for _, row := range f.Grid {
		all = append(all[:len(all):len(all)], row...)
	}
	most := 0.0
	for _, x := range all {
		most = math.Max(most, math.Abs(x))
	}
	return most
}

func shownIn(fr FigureResult, sys quantity.System, req Request) string {
	g := req.grain(fr.Kind, fr.U)
	u := unitOf(fr.Kind, sys, fr.largest(), fr.U)
	p := placesIn(u, fr.Kind, sys, g)
	row := func(xs []float64) string {
		var ss []string
		for _, x := range xs {
			ss = append(ss, numberIn(u, x, figurePlaces(fr, x, p)))
		}
		return strings.Join(ss, ", ")
	}
	switch {
	case fr.Value != nil && fr.Kind == quantity.Number:
		return numberIn(u, *fr.Value, figurePlaces(fr, *fr.Value, p))
	case fr.Value != nil:
		return showFigure(fr.Kind, sys, *fr.Value, g)
	case fr.Grid != nil:
		var rows []string
		for _, r := range fr.Grid {
			rows = append(rows, row(r))
		}
		return unitAfter(strings.Join(rows, "; "), u)
	case len(fr.List) == 0:
		return "none"
	}
	return unitAfter(row(fr.List), u)
}

// figurePlaces shows counts as counts.
func figurePlaces(fr FigureResult, x float64, p int) int {
	if fr.Kind == quantity.Number && fr.U == 0 && x == math.Trunc(x) {
		return 0
	}
	return p
}

// shower prints a distance; up rounds it up, so that moving by it suffices.
type shower func(kind quantity.Kind, x, u float64, req Request, up bool) string

// shownWith prints a distance in both units where they differ.
func shownWith(kind quantity.Kind, x, u float64, req Request, up bool) string {
	mm, inch := shownInOne(quantity.Metric)(kind, x, u, req, up), shownInOne(quantity.Inch)(kind, x, u, req, up)
	if mm == inch {
		return mm
	}
	return inch + " (" + mm + ")"
}

// shownInOne prints a distance in one system.
func shownInOne(sys quantity.System) shower {
	return func(kind quantity.Kind, x, u float64, req Request, up bool) string {
		unit := unitOf(kind, sys, x, u)
		p := placesIn(unit, kind, sys, req.grain(kind, u))
		// Where U is just one to three of the last digit, what is compared with it needs one digit more.
		if v := u / unit.Size; u > 0 && v*math.Pow10(p) < 3.5 {
			p = min(p+1, 1-exponent(v))
		}
		y := x
		if up && kind != quantity.Expansion {
			y = unit.ToBase(math.Ceil(unit.FromBase(x)*math.Pow10(p)-1e-6) / math.Pow10(p))
		}
		return unitAfter(numberIn(unit, y, p), unit)
	}
}
