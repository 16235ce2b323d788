// Package plainjson reads and writes JSON as this program itself writes it, several times as quick as encoding/json: the fields
// of an object in their order, no blanks, no key twice. A long ledger is mostly read. The reader refuses everything else, also
// what encoding/json would take: whoever asks it goes to encoding/json then, which has the last word on what a text means and
// on what is wrong with it. What the reader does take means the same to both, to the last bit; the writer's bytes are those of
// json.Marshal.
package plainjson

import (
	"encoding/base64"
	"math"
	"strconv"
	"unicode/utf8"
)

// Reader reads one value and all that is in it. Each way of reading gives nothing once something was not as it is written
// here; ask Done at the end.
type Reader struct {
	text []byte
	at   int
	bad  bool
	room []byte // where texts are put together in which not every sign stands for itself
}

// Read begins at the beginning of a text. Nothing that is read keeps the text.
func Read(text []byte) *Reader { return &Reader{text: text} }

// Done reports whether all of the text was read and all of it was as it is written here.
func (r *Reader) Done() bool { return !r.bad && r.at == len(r.text) }

// Refuse marks the text as one that is not understood here.
func (r *Reader) Refuse() { r.bad = true }

// Begin begins an object; its fields follow in their order, those that are there, then End.
func (r *Reader) Begin() { r.sign('{') }

// End ends an object. A field that nobody asked for, or not in its turn, is refused here.
func (r *Reader) End() { r.sign('}') }

func (r *Reader) sign(c byte) {
	if r.bad || r.at >= len(r.text) || r.text[r.at] != c {
		r.bad = true
		return
	}
	r.at++
}

// is goes on behind a sign where it is next.
func (r *Reader) is(c byte) bool {
	if r.bad || r.at >= len(r.text) || r.text[r.at] != c {
		return false
	}
	r.at++
	return true
}

// Field reports whether a field is next, and goes to its value.
func (r *Reader) Field(name string) bool {
	if r.bad || r.at == 0 {
		return false
	}
	from := r.at
	if r.text[from-1] != '{' { // else the first: no value ends so
		if from >= len(r.text) || r.text[from] != ',' {
			return false
		}
		from++
	}
	to := from + len(name) + 3 // two quotes and a colon
	if to > len(r.text) || r.text[to-1] != ':' || r.text[to-2] != '"' || r.text[from] != '"' || string(r.text[from+1:to-2]) != name {
		return false
	}
	r.at = to
	return true
}

// Null reports whether the value is null, and goes on behind it.
func (r *Reader) Null() bool { return r.word("null") }

func (r *Reader) word(w string) bool {
	to := r.at + len(w)
	if r.bad || to > len(r.text) || string(r.text[r.at:to]) != w {
		return false
	}
	r.at = to
	return true
}

// Flag reads true or false.
func (r *Reader) Flag() bool {
	if r.word("true") {
		return true
	}
	if !r.word("false") {
		r.bad = true
	}
	return false
}

// digits goes behind the digits that are next, and gives how many they were.
func (r *Reader) digits() int {
	from := r.at
	for r.at < len(r.text) && r.text[r.at]-'0' <= 9 {
		r.at++
	}
	return r.at - from
}

// whole goes behind the whole part of a number, and gives its digits; one that begins with a nought is that alone.
func (r *Reader) whole() []byte {
	from := r.at
	n := r.digits()
	if n == 0 || n > 1 && r.text[from] == '0' {
		r.bad = true
		return nil
	}
	return r.text[from:r.at]
}

// Uint64 reads a whole number that is not below nought.
func (r *Reader) Uint64() uint64 {
	if r.bad {
		return 0
	}
	digits := r.whole()
	if len(digits) > 19 { // it might not have room
		r.bad = true
		return 0
	}
	var n uint64
	for _, c := range digits {
		n = n*10 + uint64(c-'0')
	}
	return n
}

// Int64 reads a whole number.
func (r *Reader) Int64() int64 {
	below := r.is('-')
	n := r.Uint64()
	if n > math.MaxInt64 {
		r.bad = true
		return 0
	}
	if below {
		return -int64(n)
	}
	return int64(n)
}

// Int reads a whole number that has room in an int.
func (r *Reader) Int() int {
	n := r.Int64()
	if int64(int(n)) != n {
		r.bad = true
		return 0
	}
	return int(n)
}

// Float reads a number.
func (r *Reader) Float() float64 {
	if r.bad {
		return 0
	}
	from := r.at
	r.is('-')
	r.whole()
	if r.is('.') && r.digits() == 0 {
		r.bad = true
	}
	if r.is('e') || r.is('E') {
		if !r.is('+') {
			r.is('-')
		}
		if r.digits() == 0 {
			r.bad = true
		}
	}
	if r.bad {
		return 0
	}
	x, err := strconv.ParseFloat(string(r.text[from:r.at]), 64)
	if err != nil {
		r.bad = true
		return 0
	}
	return x
}

// plain are the signs that stand for themselves in a text.
var plain = func() (out [256]bool) {
	for c := ' '; c < utf8.RuneSelf; c++ {
		out[c] = c != '"' && c != '\\'
	}
	return out
}()

// String reads a text.
func (r *Reader) String() string {
	if !r.is('"') {
		r.bad = true
		return ""
	}
	from := r.at
	for r.at < len(r.text) && plain[r.text[r.at]] {
		r.at++
	}
	if r.at < len(r.text) && r.text[r.at] == '"' {
		r.at++
		return string(r.text[from : r.at-1])
	}
	return r.escaped(from)
}

// escaped reads a text in which not every sign stands for itself, from its beginning.
func (r *Reader) escaped(from int) string {
	out := append(r.room[:0], r.text[from:r.at]...)
	for r.at < len(r.text) {
		switch c := r.text[r.at]; {
		case plain[c]:
			for from = r.at; r.at < len(r.text) && plain[r.text[r.at]]; r.at++ {
			}
			out = append(out, r.text[from:r.at]...)
		case c == '"':
			r.at++
			r.room = out
			return string(out)
		case c == '\\':
			out = r.escape(out)
		default: // beyond ASCII, or a control character, which is none
			_, n := utf8.DecodeRune(r.text[r.at:])
			if n < 2 {
				r.bad = true
				return ""
			}
			out = append(out, r.text[r.at:r.at+n]...)
			r.at += n
		}
		if r.bad {
			return ""
		}
	}
	r.bad = true
	return ""
}

// escapes are what stands behind a backslash for one sign.
var escapes = [256]byte{'"': '"', '\\': '\\', '/': '/', 'b': '\b', 'f': '\f', 'n': '\n', 'r': '\r', 't': '\t'}

// escape reads what a backslash begins. Halves of a pair beyond the first 65536 signs are left to others.
func (r *Reader) escape(out []byte) []byte {
	rest := r.text[r.at+1:]
	if len(rest) > 0 && escapes[rest[0]] != 0 {
		r.at += 2
		return append(out, escapes[rest[0]])
	}
	if len(rest) < 5 || rest[0] != 'u' {
		r.bad = true
		return out
	}
	n, err := strconv.ParseUint(string(rest[1:5]), 16, 16)
	if err != nil || !utf8.ValidRune(rune(n)) {
		r.bad = true
		return out
	}
	r.at += 6
	return utf8.AppendRune(out, rune(n))
}

// Bytes reads bytes, which are written in base64 (RFC 4648, with its padding).
func (r *Reader) Bytes() []byte {
	if !r.is('"') {
		r.bad = true
		return nil
	}
	from := r.at
	for r.at < len(r.text) && plain[r.text[r.at]] {
		r.at++
	}
	packed := r.text[from:r.at]
	r.sign('"')
	if r.bad {
		return nil
	}
	out := make([]byte, base64.StdEncoding.DecodedLen(len(packed)))
	n, err := base64.StdEncoding.Decode(out, packed)
	if err != nil {
		r.bad = true
		return nil
	}
	return out[:n]
}

// Each reads a list, each element by one; an empty list is not nil.
func Each[T any](r *Reader, one func(*Reader) T) []T {
	r.sign('[')
	if r.is(']') {
		return []T{}
	}
	var out []T
	for !r.bad {
		out = append(out, one(r))
		if r.is(']') {
			return out
		}
		r.sign(',')
	}
	return nil
}

// Int64s reads a list of whole numbers.
func (r *Reader) Int64s() []int64 {
	n := 1
	for i := r.at; i < len(r.text) && r.text[i] != ']'; i++ {
		if r.text[i] == ',' {
			n++
		}
	}
	r.sign('[')
	if r.is(']') {
		return []int64{}
	}
	out := make([]int64, 0, n)
	for !r.bad {
		out = append(out, r.Int64())
		if r.is(']') {
			return out
		}
		r.sign(',')
	}
	return nil
}

// Table reads an object with any keys, each value by one; null gives no table. A key that comes twice is refused.
func Table[T any](r *Reader, one func(*Reader) T) map[string]T {
	if r.Null() {
		return nil
	}
	out := map[string]T{}
	r.Begin()
	if r.is('}') {
		return out
	}
	for !r.bad {
		key := r.String()
		r.sign(':')
		if _, twice := out[key]; twice {
			r.bad = true
		}
		out[key] = one(r)
		if r.is('}') {
			return out
		}
		r.sign(',')
	}
	return nil
}
