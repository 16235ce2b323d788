// Package quantity holds the measured quantities of the bench: exact lengths in tenths of a nanometre, every other
// kind as the decimal that was sent, and the units a builder writes. It refuses a unit of the wrong kind, a number it
// cannot hold exactly, and anything that is not a finite decimal or a fraction. Unit codes follow UCUM.
package quantity

import (
	"fmt"
	"sort"
	"strings"
)

// Kind says what a quantity measures.
type Kind string

// The kinds, each with the unit its float64 form is in.
const (
	Length      Kind = "length"      // mm
	Angle       Kind = "angle"       // deg
	Mass        Kind = "mass"        // g
	Force       Kind = "force"       // N
	Torque      Kind = "torque"      // N·m
	Stiffness   Kind = "stiffness"   // N/mm
	Stress      Kind = "stress"      // N/mm²
	Volume      Kind = "volume"      // cm³
	Area        Kind = "area"        // mm²
	Temperature Kind = "temperature" // °C
	Difference  Kind = "difference"  // K, a rise of temperature
	Expansion   Kind = "expansion"   // 1/K
	Density     Kind = "density"     // g/cm³
	Pitch       Kind = "pitch"       // mm a turn; "26 tpi" is 25.4/26 mm
	Slope       Kind = "slope"       // mm/deg
	Number      Kind = "number"      // counts and ratios, no unit
)

// Unit is one unit: the code a builder writes, its UCUM code, and its size.
type Unit struct {
	Code string // as written: "in", "mm", "N.m"
	UCUM string // "[in_i]", "mm", "N.m"
	Kind Kind
	Size float64 // one of this unit in the kind's base unit
}

// The exact sizes: 1 in = 25.4 mm, 1 lb = 453.59237 g (international yard and pound agreement; UCUM), standard gravity
// 9.80665 m/s² for the pound-force (CGPM 1901).
const (
	mmPerInch  = 25.4
	gramPerLb  = 453.59237
	gramPerOz  = 28.349523125
	newtonLbf  = 4.4482216152605
	newtonMLbf = 1.3558179483314003
	cm3PerIn3  = 16.387064
)

// units is the table of units, in the order they are listed to people. "deg" is first of its kind and so on: the
// first unit of a kind is its base unit.
var units = []Unit{
	{"mm", "mm", Length, 1},
	{"in", "[in_i]", Length, mmPerInch},
	{"thou", "[mil_i]", Length, mmPerInch / 1000},
	{"um", "um", Length, 0.001},
	{"m", "m", Length, 1000},
	{"deg", "deg", Angle, 1},
	{"g", "g", Mass, 1},
	{"kg", "kg", Mass, 1000},
	{"oz", "[oz_av]", Mass, gramPerOz},
	{"lb", "[lb_av]", Mass, gramPerLb},
	{"N", "N", Force, 1},
	{"kN", "kN", Force, 1000},
	{"lbf", "[lbf_av]", Force, newtonLbf},
	{"N.m", "N.m", Torque, 1},
	{"lbf.ft", "[lbf_av].[ft_i]", Torque, newtonMLbf},
	{"lbf.in", "[lbf_av].[in_i]", Torque, newtonMLbf / 12},
	{"N/mm", "N/mm", Stiffness, 1},
	{"lbf/in", "[lbf_av]/[in_i]", Stiffness, newtonLbf / mmPerInch},
	{"N/mm2", "N/mm2", Stress, 1},
	{"MPa", "MPa", Stress, 1},
	{"GPa", "GPa", Stress, 1000},
	{"psi", "[psi]", Stress, newtonLbf / (mmPerInch * mmPerInch)},
	{"cm3", "cm3", Volume, 1},
	{"in3", "[cin_i]", Volume, cm3PerIn3},
	{"mm2", "mm2", Area, 1},
	{"in2", "[sin_i]", Area, mmPerInch * mmPerInch},
	{"degC", "Cel", Temperature, 1},
	{"K", "K", Difference, 1},
	{"1/K", "K-1", Expansion, 1},
	{"g/cm3", "g/cm3", Density, 1},
	{"mm/rev", "mm", Pitch, 1},
	{"tpi", "/[in_i]", Pitch, mmPerInch},
	{"mm/deg", "mm/deg", Slope, 1},
	{"in/deg", "[in_i]/deg", Slope, mmPerInch},
	{"", "1", Number, 1},
}

// Units lists every unit, base units first within a kind.
func Units() []Unit { return append([]Unit(nil), units...) }

// UnitOf finds a unit by the code a builder writes or by its UCUM code. A code that two kinds share ("mm" is a length
// and a pitch) gives the first in the table; use UnitFor where the kind is known.
func UnitOf(code string) (Unit, error) {
	code = written(code)
	for _, u := range units {
		if u.Code == code {
			return u, nil
		}
	}
	for _, u := range units {
		if u.UCUM == code && code != "" {
			return u, nil
		}
	}
	return Unit{}, fmt.Errorf("%q is %w: it is not known here (%s)", code, ErrUnit, unitList(""))
}

// UnitFor finds the unit a builder wrote for a quantity of this kind. A pitch may be given in mm, in, thou or tpi; a
// difference of temperature in K or degC; degrees Celsius only for temperatures and differences.
func UnitFor(kind Kind, code string) (Unit, error) {
	code = written(code)
	for _, u := range units {
		if u.Kind == kind && (u.Code == code || u.UCUM == code) {
			return u, nil
		}
	}
	switch kind {
	case Pitch:
		if u, err := UnitFor(Length, code); err == nil {
			u.Kind = Pitch
			return u, nil
		}
	case Difference:
		if code == "degC" || code == "Cel" {
			return Unit{Code: "K", UCUM: "K", Kind: Difference, Size: 1}, nil
		}
	}
	if u, err := UnitOf(code); err == nil {
		return Unit{}, fmt.Errorf("%q is %w: a unit of %s, want %s (%s)", code, ErrUnit, u.Kind, kind, unitList(kind))
	}
	return Unit{}, fmt.Errorf("%q is %w: want one of %s (%s)", code, ErrUnit, kind, unitList(kind))
}

// UnitsFor lists the units of a kind, as a builder writes them.
func UnitsFor(kind Kind) string {
	switch kind {
	case Pitch:
		return unitList(Pitch) + ", " + unitList(Length)
	case Difference:
		return "K, degC"
	}
	return unitList(kind)
}

// plainSigns writes the signs of a unit as they stand in its code.
var plainSigns = strings.NewReplacer("·", ".", "²", "2", "³", "3")

// written is the code of a unit that was written otherwise: with the sign for the inch, or as it is printed.
func written(code string) string {
	switch code {
	case "\"", "″", "”", "inch", "inches":
		return "in"
	case "°":
		return "deg"
	case "°C":
		return "degC"
	case "µm", "μm":
		return "um"
	}
	return plainSigns.Replace(code)
}

// Base gives the unit that the float64 form of a kind is in.
func Base(kind Kind) Unit {
	for _, u := range units {
		if u.Kind == kind {
			return u
		}
	}
	return Unit{Kind: kind, Size: 1}
}

// System is a set of display units.
type System string

// The two systems a bench shows.
const (
	Metric System = "mm"
	Inch   System = "inch"
)

// For gives the unit a kind is shown in. Angles, temperatures and expansions are the same in both, and masses: the parts of
// an engine are weighed in grams.
func (s System) For(kind Kind) Unit {
	if s == Inch {
		switch kind {
		case Length:
			return mustUnit("in")
		case Force:
			return mustUnit("lbf")
		case Torque:
			return mustUnit("lbf.ft")
		case Stiffness:
			return mustUnit("lbf/in")
		case Volume:
			return mustUnit("in3")
		case Area:
			return mustUnit("in2")
		case Slope:
			return mustUnit("in/deg")
		case Stress:
			return mustUnit("psi")
		}
	}
	return Base(kind)
}

func mustUnit(code string) Unit {
	u, err := UnitOf(code)
	if err != nil {
		panic("quantity: " + err.Error())
	}
	return u
}

// FromBase converts a float64 in the kind's base unit to this unit. Threads per inch are a reciprocal.
func (u Unit) FromBase(x float64) float64 {
	if u.Code == "tpi" {
		return u.Size / x
	}
	return x / u.Size
}

// ToBase converts a float64 in this unit to the kind's base unit.
func (u Unit) ToBase(x float64) float64 {
	if u.Code == "tpi" {
		return u.Size / x
	}
	return x * u.Size
}

func unitList(kind Kind) string {
	var codes []string
	for _, u := range units {
		if (kind == "" || u.Kind == kind) && u.Code != "" {
			codes = append(codes, u.Code)
		}
	}
	if kind == "" {
		sort.Strings(codes)
	}
	out := ""
	for i, c := range codes {
		if i > 0 {
			out += ", "
		}
		out += c
	}
	return out
}
