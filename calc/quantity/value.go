package quantity

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Exact lengths: Value.N of a length counts tenths of a nanometre, so that 1/128 in, 1 µin and 0.1 µm are whole.
const (
	PerMillimetre = 10_000_000
	PerInch       = 254_000_000
	PerThou       = 254_000
	PerMicrometre = 10_000
	PerMicroinch  = 254
)

// mostPlaces is how many decimal places a quantity may have.
const mostPlaces = 12

// Errors callers branch on.
var (
	ErrNotExact = errors.New("cannot be held exactly")
	ErrRange    = errors.New("out of range")
	ErrKind     = errors.New("quantities of different kinds")
	ErrUnit     = errors.New("not a unit that fits")
)

// Value is one exact quantity. A length's N counts tenths of a nanometre whatever unit it was sent in; any other
// kind's N is the decimal as sent: N·10^-Places of Unit. Unit and Places say for every kind how it was sent, and so
// how it is printed. The zero Value is no quantity.
type Value struct {
	N      int64
	Places int
	Unit   Unit
}

// Kind says what the value measures.
func (v Value) Kind() Kind { return v.Unit.Kind }

// Valid reports whether v holds a quantity.
func (v Value) Valid() bool { return v.Unit.Kind != "" }

// Float is the value in its kind's base unit.
func (v Value) Float() float64 {
	if v.Unit.Kind == Length {
		return float64(v.N) / PerMillimetre
	}
	return v.Unit.ToBase(float64(v.N) / pow10(v.Places))
}

// Resolution is one count of the last digit sent, in the kind's base unit.
func (v Value) Resolution() float64 {
	if v.Unit.Code == "tpi" {
		return 0
	}
	return v.Unit.Size / pow10(v.Places)
}

// In gives a length, or any other value of this unit's kind, as shown in another unit with so many places. The N of a
// length is untouched.
func (v Value) In(u Unit, places int) Value {
	if v.Unit.Kind == Length && u.Kind == Length {
		return Value{N: v.N, Places: places, Unit: u}
	}
	return v
}

// Add is a + b, exact. Refused with ErrKind for different kinds (or different units of a kind that is no length) and
// with ErrRange on overflow. The sum is shown as a is.
func (v Value) Add(b Value) (Value, error) { return v.combine(b, 1) }

// Sub is a − b, exact; refused as Add.
func (v Value) Sub(b Value) (Value, error) { return v.combine(b, -1) }

func (v Value) combine(b Value, sign int64) (Value, error) {
	if v.Kind() != b.Kind() || !v.Valid() {
		return Value{}, fmt.Errorf("%w: %s and %s", ErrKind, v.Kind(), b.Kind())
	}
	if v.Kind() == Length {
		n, ok := addInt(v.N, sign*b.N)
		if !ok || b.N == math.MinInt64 {
			return Value{}, fmt.Errorf("%s and %s: sum %w", v, b, ErrRange)
		}
		v.N = n
		return v, nil
	}
	if v.Unit.Code != b.Unit.Code {
		return Value{}, fmt.Errorf("%w: %s and %s", ErrKind, v.Unit.Code, b.Unit.Code)
	}
	places := max(v.Places, b.Places)
	an, ok1 := scaleInt(v.N, places-v.Places)
	bn, ok2 := scaleInt(b.N, places-b.Places)
	n, ok3 := addInt(an, sign*bn)
	if !ok1 || !ok2 || !ok3 || bn == math.MinInt64 {
		return Value{}, fmt.Errorf("%s and %s: sum %w", v, b, ErrRange)
	}
	return Value{N: n, Places: places, Unit: v.Unit}, nil
}

// String prints the value with its unit, in the digits it was sent with; a length whose exact value needs more digits
// in that unit (a fraction of an inch) is printed with all it needs.
func (v Value) String() string {
	if !v.Valid() {
		return "none"
	}
	s := v.Digits()
	if v.Unit.Code == "" {
		return s
	}
	return s + " " + v.Unit.Code
}

// Digits prints the number alone, as String.
func (v Value) Digits() string {
	if v.Unit.Kind != Length {
		return formatDecimal(big.NewInt(v.N), v.Places)
	}
	// N tenths of a nanometre = N/10^7 mm = N/254e6 in: the shortest decimal with at least Places places that is exact.
	per := perUnit(v.Unit)
	if per == 0 {
		return strconv.FormatFloat(v.Unit.FromBase(v.Float()), 'f', v.Places, 64)
	}
	num := big.NewInt(v.N)
	den := big.NewInt(per)
	for places := v.Places; places <= v.Places+12; places++ {
		scaled := new(big.Int).Mul(num, new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil))
		q, r := new(big.Int).QuoRem(scaled, den, new(big.Int))
		if r.Sign() == 0 {
			return formatDecimal(q, places)
		}
	}
	return v.Round(v.Unit, v.Places)
}

// Round prints a value in a unit of its kind, rounded half away from zero to so many places: for display only.
func (v Value) Round(u Unit, places int) string {
	return strings.Replace(strconv.FormatFloat(roundHalfAway(u.FromBase(v.Float()), places), 'f', places, 64), "-0."+strings.Repeat("0", places), "0."+strings.Repeat("0", places), 1)
}

// perUnit is how many tenths of a nanometre one of this unit of length has; 0 where that is not whole.
func perUnit(u Unit) int64 {
	switch u.Code {
	case "mm":
		return PerMillimetre
	case "in":
		return PerInch
	case "thou":
		return PerThou
	case "um":
		return PerMicrometre
	case "m":
		return 1000 * PerMillimetre
	}
	return 0
}

// Make builds a value from a signed decimal (digits·10^-places) in a unit, as a gauge sends it. It fails with
// ErrNotExact where a length is finer than a tenth of a nanometre and with ErrRange where it does not fit.
func Make(digits int64, places int, u Unit) (Value, error) {
	if places < 0 || places > mostPlaces {
		return Value{}, fmt.Errorf("%d decimal places: %w", places, ErrRange)
	}
	if u.Kind != Length {
		return Value{N: digits, Places: places, Unit: u}, nil
	}
	per := perUnit(u)
	hi := pow10i(places)
	// Gauges are plain: stay in int64 where the product fits.
	if n, ok := mulInt(digits, per); ok {
		if n%hi != 0 {
			return Value{}, fmt.Errorf("%s %s: finer than 0.1 nm, %w", formatDecimal(big.NewInt(digits), places), u.Code, ErrNotExact)
		}
		return Value{N: n / hi, Places: places, Unit: u}, nil
	}
	big1 := new(big.Int).Mul(big.NewInt(digits), big.NewInt(per))
	q, r := new(big.Int).QuoRem(big1, big.NewInt(hi), new(big.Int))
	if r.Sign() != 0 {
		return Value{}, fmt.Errorf("%s %s: finer than 0.1 nm, %w", formatDecimal(big.NewInt(digits), places), u.Code, ErrNotExact)
	}
	if !q.IsInt64() {
		return Value{}, fmt.Errorf("%s %s: %w", formatDecimal(big.NewInt(digits), places), u.Code, ErrRange)
	}
	return Value{N: q.Int64(), Places: places, Unit: u}, nil
}

// OfLength builds a length from tenths of a nanometre, shown in a unit with so many places.
func OfLength(n int64, u Unit, places int) Value { return Value{N: n, Places: places, Unit: u} }

// ParseDecimal reads a plain signed decimal: optional sign, digits, optional point and digits; no exponent, no
// grouping, no NaN. It fails on anything else, naming the text.
func ParseDecimal(s string) (digits int64, places int, err error) {
	bad := func() (int64, int, error) { return 0, 0, fmt.Errorf("%q is not a decimal number", s) }
	neg := false
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		neg = s[i] == '-'
		i++
	}
	seen, point := false, false
	for ; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			seen = true
			d := int64(c - '0')
			if digits > (math.MaxInt64-d)/10 {
				return 0, 0, fmt.Errorf("%q: %w", s, ErrRange)
			}
			digits = digits*10 + d
			if point {
				places++
			}
		case c == '.' && !point:
			point = true
		default:
			return bad()
		}
	}
	if !seen {
		return bad()
	}
	if places > mostPlaces {
		return 0, 0, fmt.Errorf("%q: %d decimal places: %w", s, places, ErrRange)
	}
	if neg {
		digits = -digits
	}
	return digits, places, nil
}

func formatDecimal(n *big.Int, places int) string {
	s := new(big.Int).Abs(n).String()
	if len(s) <= places {
		s = strings.Repeat("0", places-len(s)+1) + s
	}
	if places > 0 {
		s = s[:len(s)-places] + "." + s[len(s)-places:]
	}
	if n.Sign() < 0 {
		s = "-" + s
	}
	return s
}

func roundHalfAway(x float64, places int) float64 {
	p := pow10(places)
	return math.Round(x*p) / p
}

func pow10(n int) float64 { return math.Pow10(n) }

func pow10i(n int) int64 {
	p := int64(1)
	for range n {
		p *= 10
	}
	return p
}

func addInt(a, b int64) (int64, bool) {
	c := a + b
	return c, (c > a) == (b > 0)
}

func mulInt(a, b int64) (int64, bool) {
	if a == 0 || b == 0 {
		return 0, true
	}
	c := a * b
	return c, c/b == a && !(a == -1 && b == math.MinInt64) && !(b == -1 && a == math.MinInt64)
}

func scaleInt(n int64, by int) (int64, bool) { return mulInt(n, pow10i(by)) }
