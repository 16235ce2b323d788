package devices

import (
	"bytes"
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

// Bench is thoud's own line for home-made bridges: a small controller that reads a gauge or a foot pedal its own way
// and sends one line of printable ASCII an event. The grammar, in the notation of RFC 5234:
//
//	line    = ":" ( reading / key ) [ SP "*" 2HEXDIG ] [ CR ] LF
//	reading = channel SP ( number / "-" ) SP unit [ SP state *( "+" state ) ]
//	key     = "key" SP name
//	channel = 1*32( ALPHA / DIGIT / "." / "_" / "-" )      ; not "key"
//	name    = 1*32( ALPHA / DIGIT / "." / "_" / "-" )
//	number  = [ "+" / "-" ] 1*DIGIT [ "." 1*DIGIT ]
//	unit    = a unit code as "mm", "in", "deg", "g"; "1" for a plain number
//	state   = "stable" / "unstable" / "overload" / "low-battery" / "fault" / "reversed"
//
// as in
//
//	:left 12.345 mm
//	:left -0.4860 in unstable *D3
//	:left - mm overload
//	:key pedal
//
// A "-" in place of the number goes with overload or fault, and only with them. The check sum is the CRC-8/SMBUS (check
// value 0xF4) of all bytes from the colon to the one before the blank and the star, as two hexadecimal digits. It is
// optional, or wanted on every line where the profile says so. The colon stands nowhere else, so a line that lost its
// beginning is never taken for another.
type Bench struct {
	Checked  bool     // every line must bring its check sum
	Channels []string // the channels that may come; empty for any
}

const (
	benchMark = ':'
	benchName = 32 // characters of a channel or key
)

type benchCodec struct {
	b        Bench
	channels map[string]bool
	units    map[string]quantity.Unit
}

func (p Profile) compileBench() (codec, error) {
	if p.Bench == nil {
		return nil, missingTable("bench")
	}
	if p.Line.DataBits == 7 {
		return nil, fieldError("line.data_bits", "7: the bench line has 8")
	}
	c := &benchCodec{b: *p.Bench, channels: map[string]bool{}, units: map[string]quantity.Unit{}}
	for _, ch := range c.b.Channels {
		if !validBenchName([]byte(ch)) || ch == "key" {
			return nil, fieldError("bench.channels", "%q is not a channel: want letters, figures, . _ and -, at most %d, not \"key\"", ch, benchName)
		}
		c.channels[ch] = true
	}
	for _, u := range quantity.Units() {
		if _, ok := c.units[u.Code]; !ok && u.Code != "" {
			c.units[u.Code] = u
		}
	}
	c.units["1"] = quantity.Base(quantity.Number)
	return c, nil
}

func validBenchName(b []byte) bool {
	for _, c := range b {
		if !isChannel(c) && c != '.' {
			return false
		}
	}
	return len(b) > 0 && len(b) <= benchName
}

func (c *benchCodec) encode(samples []Sample) ([]byte, error) {
	var out []byte
	for _, s := range samples {
		line := fmt.Sprintf(":key %s", s.Key)
		switch {
		case s.Key != "":
			if !validBenchName([]byte(s.Key)) {
				return nil, fmt.Errorf("%q is not a key's name", s.Key)
			}
		case !validBenchName([]byte(s.Channel)) || s.Channel == "key":
			return nil, fmt.Errorf("%q is not a channel", s.Channel)
		default:
			number, unit := "-", "1"
			if s.Value.Valid() {
				number, unit = s.Value.Digits(), s.Value.Unit.Code
			}
			if unit == "" {
				unit = "1"
			}
			if (s.Status&(Overload|Fault) != 0) == s.Value.Valid() {
				return nil, fmt.Errorf("value %s and status %q do not go together", s.Value, s.Status)
			}
			line = fmt.Sprintf(":%s %s %s", s.Channel, number, unit)
			if s.Status != 0 {
				line += " " + s.Status.String()
			}
		}
		if c.b.Checked {
			line += fmt.Sprintf(" *%02X", crc8([]byte(line)))
		}
		out = append(append(out, line...), '\n')
	}
	return out, nil
}

type benchDecoder struct {
	*benchCodec
	raw      []byte
	skipping bool
	names    names
}

var _ Decoder = (*benchDecoder)(nil)

func (c *benchCodec) decoder() Decoder { return &benchDecoder{benchCodec: c, names: names{}} }

func (d *benchDecoder) Reset() { d.raw, d.skipping = d.raw[:0], false }

func (d *benchDecoder) Idle(emit func(Sample, error)) {
	if len(d.raw) > 0 && !d.skipping {
		emit(Sample{}, frameError(d.raw, "the line fell silent in the middle of a frame; read again"))
	}
	d.Reset()
}

func (d *benchDecoder) Feed(p []byte, emit func(Sample, error)) {
	for _, b := range p {
		switch {
		case b == '\n':
			if !d.skipping && len(bytes.TrimRight(d.raw, "\r")) > 0 {
				d.raw = append(d.raw, b)
				s, why := d.line(d.raw[:len(d.raw)-1])
				if why != "" {
					emit(Sample{}, frameError(d.raw, "%s; is the profile right?", why))
				} else {
					s.Frame = d.raw
					emit(s, nil)
				}
			}
			d.Reset()
		case d.skipping:
		case len(d.raw) >= maxLine:
			emit(Sample{}, frameError(d.raw, "no end of line in %d bytes; are the line settings right?", maxLine))
			d.skipping = true
		default:
			d.raw = append(d.raw, b)
		}
	}
}

// line reads one line without its LF; why is "" where it is good.
func (d *benchDecoder) line(b []byte) (s Sample, why string) {
	if len(b) > 0 && b[len(b)-1] == '\r' {
		b = b[:len(b)-1]
	}
	for _, c := range b {
		if c < ' ' || c > '~' {
			return s, fmt.Sprintf("the byte 0x%02x is no printable character", c)
		}
	}
	checked := false
	if n := len(b); n >= 4 && b[n-4] == ' ' && b[n-3] == '*' {
		hi, ok1 := hexDigit(b[n-2])
		lo, ok2 := hexDigit(b[n-1])
		sum := crc8(b[:n-4])
		if !ok1 || !ok2 || hi<<4|lo != sum {
			return s, fmt.Sprintf("check sum %s, its bytes give %02X", quoteBytes(b[n-3:]), sum)
		}
		b, checked = b[:n-4], true
	}
	if d.b.Checked && !checked {
		return s, "no check sum"
	}
	if len(b) == 0 || b[0] != benchMark || bytes.IndexByte(b[1:], benchMark) >= 0 {
		return s, "a line begins with a colon, and has no other"
	}
	s.Text = b
	first, rest, ok := bytes.Cut(b[1:], []byte{' '})
	if !ok || !validBenchName(first) {
		return s, quoteBytes(first) + " is not a channel"
	}
	if string(first) == "key" {
		if !validBenchName(rest) {
			return s, quoteBytes(rest) + " is not a key's name"
		}
		s.Key = d.names.of(rest)
		return s, ""
	}
	if len(d.channels) > 0 && !d.channels[string(first)] {
		return s, quoteBytes(first) + " is not a channel of the profile (" + strings.Join(d.b.Channels, ", ") + ")"
	}
	s.Channel = d.names.of(first)
	number, rest, ok := bytes.Cut(rest, []byte{' '})
	if !ok {
		return s, "no unit"
	}
	word, state, more := bytes.Cut(rest, []byte{' '})
	unit, ok := d.units[string(word)]
	if !ok {
		return s, quoteBytes(word) + " is not a unit"
	}
	if more {
		if s.Status, ok = readStatus(state); !ok {
			return s, quoteBytes(state) + " is not a state"
		}
	}
	none := string(number) == "-"
	if none != (s.Status&(Overload|Fault) != 0) {
		return s, "\"-\" goes with overload or fault, a number with neither"
	}
	if none {
		return s, ""
	}
	s.Value, why = readNumber(number, unit)
	return s, why
}

// readNumber reads a signed decimal with a point.
func readNumber(b []byte, u quantity.Unit) (quantity.Value, string) {
	digits, neg := b, false
	if len(b) > 0 && (b[0] == '+' || b[0] == '-') {
		neg, digits = b[0] == '-', b[1:]
	}
	n, why := parseDigits(digits, '.')
	if why == "" && digits[0] == '.' {
		why = "is not a decimal number"
	}
	if why != "" {
		return quantity.Value{}, quoteBytes(b) + " " + why
	}
	if neg {
		n.digits = -n.digits
	}
	v, err := quantity.Make(n.digits, n.places, u)
	if err != nil {
		return v, err.Error()
	}
	return v, ""
}

// readStatus is ParseStatus without making strings.
func readStatus(b []byte) (Status, bool) {
	var s Status
	for more := true; more; {
		var part []byte
		part, b, more = bytes.Cut(b, []byte{'+'})
		found := false
		for i := range statusNames {
			if string(part) == statusNames[i].name {
				s |= statusNames[i].bit
				found = true
			}
		}
		if !found {
			return 0, false
		}
	}
	return s, true
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c >= '0' && c <= '9':
		return c - '0', true
	case c >= 'A' && c <= 'F':
		return c - 'A' + 10, true
	case c >= 'a' && c <= 'f':
		return c - 'a' + 10, true
	}
	return 0, false
}
