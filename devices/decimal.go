package devices

import (
	"math"

	"thoud/calc/quantity"
)

// decimal is digits·10^-places.
type decimal struct {
	digits int64
	places int
}

func parseScale(path, s string) (decimal, error) {
	d, places, err := quantity.ParseDecimal(s)
	if err != nil {
		return decimal{}, fieldError(path, "%v", err)
	}
	if d == 0 {
		return decimal{}, fieldError(path, "%q would make every value nothing", s)
	}
	for places > 0 && d%10 == 0 {
		d, places = d/10, places-1
	}
	return decimal{d, places}, nil
}

// times multiplies exactly; false where the product does not fit.
func (d decimal) times(b decimal) (decimal, bool) {
	if d.digits == math.MinInt64 || b.digits == math.MinInt64 {
		return decimal{}, false
	}
	p := d.digits * b.digits
	if d.digits != 0 && p/d.digits != b.digits {
		return decimal{}, false
	}
	return decimal{p, d.places + b.places}, true
}

// parseDigits reads unsigned decimal digits with at most one mark between digits; why is "" where that is what b is.
func parseDigits(b []byte, mark byte) (d decimal, why string) {
	point := false
	for i, c := range b {
		switch {
		case c >= '0' && c <= '9':
			if d.digits > (math.MaxInt64-int64(c-'0'))/10 {
				return d, "has too many digits"
			}
			d.digits = d.digits*10 + int64(c-'0')
			if point {
				d.places++
			}
		case c == mark && !point && i+1 < len(b):
			point = true
		default:
			return d, "is not a decimal number"
		}
	}
	if len(b) == 0 || len(b) == 1 && point {
		return d, "is not a decimal number"
	}
	if d.places > 12 {
		return d, "has too many decimal places"
	}
	return d, ""
}
