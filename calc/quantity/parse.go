package quantity

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Parse reads what a builder writes: a decimal or a fraction and a unit, "0.0375 in", "-0.0012 in", "7/32 in", "1 1/2 in",
// "0.5\"", "0,5 mm", "28 deg", "26 tpi", "23e-6 1/K". A number without a unit is a plain Number. Lengths come exact.
//
// A comma is a decimal point where it cannot be anything else: "1,234 mm" is a thousand to some and one and a quarter to
// others, and is refused. An exponent is for what is never measured with a gauge; a length has none.
func Parse(s string) (Value, error) { return ParseAs("", s) }

// ParseAs is Parse for a quantity that must be of this kind ("" for any). A unit that does not fit fails with ErrUnit and
// the units that do.
func ParseAs(kind Kind, s string) (Value, error) {
	num, u, err := parts(kind, s)
	if err != nil {
		return Value{}, err
	}
	if strings.Contains(num, "/") {
		return parseFraction(s, num, u)
	}
	digits, places, err := parseWritten(num, u.Kind)
	if err != nil {
		return Value{}, fmt.Errorf("%q: %w", s, err)
	}
	v, err := Make(digits, places, u)
	if err != nil {
		return Value{}, fmt.Errorf("%q: %w", s, err)
	}
	return v, nil
}

// Approximate is ParseAs for a length that has no whole number of tenths of a nanometre, as "1/3 in", or one that is out of
// range: the nearest float64 in the kind's base unit.
func Approximate(kind Kind, s string) (float64, error) {
	num, u, err := parts(kind, s)
	if err != nil {
		return 0, err
	}
	x := new(big.Rat)
	if strings.Contains(num, "/") {
		n, d, ok := fraction(num)
		if !ok {
			return 0, notFraction(s)
		}
		x.SetFrac64(n, d)
	} else if _, ok := x.SetString(strings.ReplaceAll(num, ",", ".")); !ok || strings.ContainsAny(num, "eE") {
		return 0, fmt.Errorf("%q is not a decimal number", num)
	}
	f, _ := x.Float64()
	if math.IsInf(f, 0) {
		return 0, fmt.Errorf("%q: %w", s, ErrRange)
	}
	return u.ToBase(f), nil
}

// parts takes a text apart into its number and its unit.
func parts(kind Kind, s string) (num string, u Unit, err error) {
	num, code := split(s)
	if num == "" {
		return "", u, fmt.Errorf("%q is not a quantity: want a number and a unit, as \"0.0375 in\"", s)
	}
	if kind == "" {
		u, err = UnitOf(code)
	} else {
		u, err = UnitFor(kind, code)
	}
	if err != nil {
		return "", u, fmt.Errorf("%q: %w", s, err)
	}
	return num, u, nil
}

// split parts number and unit: the unit starts at the first character that is no part of a number. A space inside the
// number stands only before a fraction, "1 1/2".
func split(s string) (num, code string) {
	s = strings.TrimSpace(s)
	i := numberLength(s)
	if rest := strings.TrimLeft(s[i:], " "); i > 0 && len(rest) < len(s[i:]) && !strings.Contains(s[:i], "/") {
		if j := numberLength(rest); isFraction(rest[:j]) {
			return s[:i] + " " + rest[:j], strings.TrimSpace(rest[j:])
		}
	}
	return s[:i], strings.TrimSpace(s[i:])
}

// numberLength is how much of the start of a text is a number.
func numberLength(s string) int {
	i := 0
	for i < len(s) {
		c := s[i]
		exponent := (c == 'e' || c == 'E') && i > 0 && i+1 < len(s) && (isDigit(s[i+1]) || i+2 < len(s) && (s[i+1] == '-' || s[i+1] == '+') && isDigit(s[i+2]))
		if !isDigit(c) && !strings.ContainsRune(".,+-/", rune(c)) && !exponent {
			break
		}
		i++
	}
	return i
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func isFraction(s string) bool {
	a, b, ok := strings.Cut(s, "/")
	return ok && a != "" && b != "" && strings.Trim(a+b, "0123456789") == ""
}

// fraction reads "7/32" or "1 1/2" as whole numbers; a sign counts for all of it.
func fraction(num string) (n, d int64, ok bool) {
	text, negative := strings.CutPrefix(num, "-")
	whole, part, mixed := strings.Cut(text, " ")
	if !mixed {
		whole, part = "0", text
	}
	a, b, _ := strings.Cut(part, "/")
	w, errW := strconv.ParseInt(whole, 10, 32)
	n, errA := strconv.ParseInt(a, 10, 32)
	d, errB := strconv.ParseInt(b, 10, 32)
	if errW != nil || errA != nil || errB != nil || d <= 0 || mixed && (w < 0 || n < 0 || n >= d) {
		return 0, 0, false
	}
	n += w * d
	if negative {
		n = -n
	}
	return n, d, true
}

func notFraction(s string) error {
	return fmt.Errorf("%q is not a fraction: want whole numbers, as \"7/32 in\" or \"1 1/2 in\"", s)
}

func parseFraction(s, num string, u Unit) (Value, error) {
	n, d, ok := fraction(num)
	if !ok {
		return Value{}, notFraction(s)
	}
	per := perUnit(u)
	if u.Kind != Length || per == 0 {
		return Value{}, fmt.Errorf("%q: fractions are for lengths", s)
	}
	p := new(big.Int).Mul(big.NewInt(n), big.NewInt(per))
	q, r := new(big.Int).QuoRem(p, big.NewInt(d), new(big.Int))
	if r.Sign() != 0 {
		return Value{}, fmt.Errorf("%q: %w in tenths of a nanometre", s, ErrNotExact)
	}
	if !q.IsInt64() {
		return Value{}, fmt.Errorf("%q: %w", s, ErrRange)
	}
	return Value{N: q.Int64(), Places: 4, Unit: u}, nil
}

// parseWritten reads a decimal as people write it: a comma for a point, and an exponent where the kind may have one.
func parseWritten(num string, kind Kind) (digits int64, places int, err error) {
	mantissa, exponent, has := cutExponent(num)
	if has && kind == Length {
		return 0, 0, fmt.Errorf("%q is not a decimal number", num)
	}
	if mantissa, err = pointForComma(mantissa); err != nil {
		return 0, 0, err
	}
	if digits, places, err = ParseDecimal(mantissa); err != nil {
		return 0, 0, err
	}
	if places -= exponent; places < 0 {
		var ok bool
		if digits, ok = scaleInt(digits, -places); !ok || places < -18 {
			return 0, 0, fmt.Errorf("%q: %w", num, ErrRange)
		}
		places = 0
	}
	return digits, places, nil
}

// cutExponent takes "23e-6" apart; an exponent beyond ±99 is none.
func cutExponent(num string) (mantissa string, exponent int, has bool) {
	i := strings.IndexAny(num, "eE")
	if i < 0 {
		return num, 0, false
	}
	e, err := strconv.Atoi(num[i+1:])
	if err != nil || e < -99 || e > 99 {
		return num, 0, true
	}
	return num[:i], e, true
}

// pointForComma refuses a comma that could part thousands.
func pointForComma(s string) (string, error) {
	whole, part, has := strings.Cut(s, ",")
	if !has {
		return s, nil
	}
	if strings.ContainsAny(part, ",.") || strings.Contains(whole, ".") {
		return s, fmt.Errorf("%q is not a decimal number", s)
	}
	if len(part) == 3 && strings.Trim(whole, "+-0") != "" {
		return s, fmt.Errorf("%q may be thousands or a decimal: write it with a point, or without one", s)
	}
	return whole + "." + part, nil
}
