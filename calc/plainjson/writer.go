package plainjson

import (
	"encoding/json"
	"errors"
	"math"
	"strconv"
)

// ErrNoNumber means that a number is none, or without end: JSON has no words for it.
var ErrNoNumber = errors.New("no number that JSON has words for")

// AppendFloat adds a number as json.Marshal writes it: the shortest that reads back as the same, with an exponent where it is
// very small or very large. Wraps ErrNoNumber.
func AppendFloat(to []byte, x float64) ([]byte, error) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return to, ErrNoNumber
	}
	format := byte('f')
	if a := math.Abs(x); a != 0 && (a < 1e-6 || a >= 1e21) {
		format = 'e'
	}
	to = strconv.AppendFloat(to, x, format, -1, 64)
	if n := len(to); format == 'e' && n >= 4 && to[n-4] == 'e' && to[n-3] == '-' && to[n-2] == '0' {
		to[n-2] = to[n-1] // e-09 is written e-9
		to = to[:n-1]
	}
	return to, nil
}

// bare are the signs of a text that json.Marshal writes as they are: it takes care of what a page could take for a tag.
var bare = func() (out [256]bool) {
	for c, is := range plain {
		out[c] = is && c != '<' && c != '>' && c != '&'
	}
	return out
}()

// AppendString adds a text as json.Marshal writes it.
func AppendString(to []byte, s string) []byte {
	for i := range len(s) {
		if !bare[s[i]] {
			b, _ := json.Marshal(s) // every text can be written
			return append(to, b...)
		}
	}
	to = append(to, '"')
	to = append(to, s...)
	return append(to, '"')
}
