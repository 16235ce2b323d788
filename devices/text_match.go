package devices

import (
	"bytes"
	"math/bits"

	"thoud/calc/quantity"
)

// match fits one piece to the patterns and appends its sample to d.out. The error tells of the pattern that went
// farthest.
func (d *textDecoder) match(frame, body []byte) error {
	if bytes.IndexByte(body, 0) >= 0 {
		return frameError(frame, "a NUL byte: a parity error on the line, or the wrong line settings")
	}
	if d.parity != "" && !parityFits(frame, d.parity) {
		return frameError(frame, "%s parity does not fit: an error on the line, or the wrong line settings", d.parity)
	}
	var worst mismatch
	for i := range d.patterns {
		s, m := d.fit(&d.patterns[i], body)
		if m.why == "" {
			s.Frame, s.Text = frame, body
			d.out = append(d.out, s)
			return nil
		}
		if i == 0 || m.at > worst.at {
			worst = m
		}
	}
	return worst.error(frame)
}

// parityFits checks the parity of 7-bit characters that came with it in the eighth bit, as they do through a port set to
// 8 bits. A port set to 7 bits has checked it and taken it off: then no eighth bit is set.
func parityFits(b []byte, parity string) bool {
	brought := false
	for _, c := range b {
		brought = brought || c&0x80 != 0
	}
	if !brought {
		return true
	}
	for _, c := range b {
		if (bits.OnesCount8(c)%2 == 0) != (parity == "even") {
			return false
		}
	}
	return true
}

// mismatch is why a line does not fit a pattern: at is how far it fitted, text what does not.
type mismatch struct {
	at   int
	text []byte
	why  string
	err  error
}

func (m mismatch) error(frame []byte) error {
	if m.err != nil {
		return frameError(frame, "%v; is the profile right?", m.err)
	}
	return frameError(frame, "%s %s; is the profile right?", quoteBytes(m.text), m.why)
}

// fit matches the whole of b against one pattern.
func (d *textDecoder) fit(p *pattern, b []byte) (Sample, mismatch) {
	var s Sample
	var num decimal
	unit := d.unit
	neg := false
	i := 0
	for n, e := range p.elements {
		rest := b[i:]
		miss := func(text []byte, why string) (Sample, mismatch) {
			return Sample{}, mismatch{at: i, text: text, why: why}
		}
		if e.width > 0 {
			if len(rest) < e.width {
				if e.optional && len(rest) == 0 {
					continue
				}
				return miss(rest, "ends too early")
			}
			rest = rest[:e.width]
		}
		switch e.part {
		case 'l':
			if len(rest) < len(e.lit) || string(rest[:len(e.lit)]) != e.lit {
				return miss(rest, "stands where the profile has "+e.lit)
			}
			i += len(e.lit)
		case 'b':
			for i < len(b) && b[i] == ' ' {
				i++
			}
		case 'x':
			i += e.width
		case 's':
			switch {
			case len(rest) > 0 && (rest[0] == '+' || rest[0] == '-'):
				neg = rest[0] == '-'
				i++
			case e.optional:
				if len(rest) > 0 && rest[0] == ' ' {
					i++
				}
			default:
				return miss(rest, "has no sign")
			}
		case 'n':
			token := rest
			if e.width == 0 {
				token = numberToken(rest, p.elements[n+1:])
			}
			used := len(token)
			if !e.filled && e.width > 0 {
				token = bytes.Trim(token, " ")
			}
			if !p.has['s'] && len(token) > 0 && (token[0] == '+' || token[0] == '-') {
				neg = token[0] == '-'
				token = token[1:]
			}
			v, why := parseDigits(token, d.mark)
			if why != "" {
				return miss(token, why)
			}
			if d.t.Places >= 0 && v.places != d.t.Places {
				return miss(token, "has not the profile's decimal places")
			}
			num = v
			i += used
		case 'u', 't', 'c':
			word, used, ok := d.word(e, rest, b[i:])
			if !ok {
				if e.optional && (e.width == 0 || len(bytes.Trim(rest, " ")) == 0) {
					i += used
					continue
				}
				return miss(rest, "is not "+partOf[e.part]+" of the profile")
			}
			i += used
			switch e.part {
			case 'u':
				unit = d.units[word]
			case 't':
				s.Status |= d.status[word]
			case 'c':
				s.Channel = word
				if len(d.channelWords) > 0 {
					s.Channel = d.t.Channel[word]
				}
			}
		}
	}
	if i < len(b) {
		return Sample{}, mismatch{at: i, text: b[i:], why: "is left over at the end"}
	}
	if !p.has['n'] || s.Status&(Overload|Fault) != 0 {
		return s, mismatch{}
	}
	if neg {
		num.digits = -num.digits
	}
	v, ok := num.times(d.scale)
	if !ok {
		return Sample{}, mismatch{at: len(b), text: b, why: "is out of range"}
	}
	value, err := quantity.Make(v.digits, v.places, unit)
	if err != nil {
		return Sample{}, mismatch{at: len(b), why: "value", err: err}
	}
	s.Value = value
	return s, mismatch{}
}

var partOf = map[byte]string{'u': "a unit", 't': "a status word", 'c': "a channel"}

// numberToken is the run of characters meant as the number: up to a blank or the character that must follow; right
// before a word it ends where digits and marks do.
func numberToken(b []byte, next []element) []byte {
	for i, c := range b {
		switch {
		case c == ' ':
			return b[:i]
		case len(next) > 0 && next[0].part == 'l' && c == next[0].lit[0]:
			return b[:i]
		case len(next) > 0 && next[0].part != 'l' && !(c >= '0' && c <= '9' || c == '.' || c == ',' || (c == '+' || c == '-') && i == 0):
			return b[:i]
		}
	}
	return b
}

// word finds the profile's word at the beginning of the rest of a line; used is how many characters it takes with its
// padding. rest is what a part with a width may take.
func (d *textDecoder) word(e element, rest, all []byte) (word string, used int, ok bool) {
	words := d.unitWords
	switch e.part {
	case 't':
		words = d.statusWords
	case 'c':
		if words = d.channelWords; len(words) == 0 {
			return d.anyChannel(e, rest)
		}
	}
	if e.width > 0 {
		trimmed := bytes.Trim(rest, " ")
		for _, w := range words {
			if string(trimmed) == w || string(rest) == w {
				return w, e.width, true
			}
		}
		return "", e.width, false
	}
	for _, w := range words {
		if len(all) >= len(w) && string(all[:len(w)]) == w {
			return w, len(w), true
		}
	}
	return "", 0, false
}

func (d *textDecoder) anyChannel(e element, rest []byte) (word string, used int, ok bool) {
	if e.width > 0 {
		rest = bytes.Trim(rest, " ")
	}
	n := 0
	for n < len(rest) && isChannel(rest[n]) {
		n++
	}
	if n == 0 || e.width > 0 && n < len(rest) {
		return "", 0, false
	}
	if e.width > 0 {
		return d.names.of(rest), e.width, true
	}
	return d.names.of(rest[:n]), n, true
}
