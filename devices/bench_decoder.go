package devices

import (
	"bytes"
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

type benchDecoder struct {
	*benchCodec
	raw      []byte
	skipping bool
	names    names
	last     map[string]*confirmed
	newer    int64 // the version of a bridge that is newer than this program, else 0
}

var _ Decoder = (*benchDecoder)(nil)

func (c *benchCodec) decoder() Decoder {
	return &benchDecoder{benchCodec: c, names: names{}, last: map[string]*confirmed{}}
}

// Reset forgets half a line, and what a bridge had said: another one may be there now.
func (d *benchDecoder) Reset() {
	d.restart()
	d.forget()
	d.newer = 0
}

func (d *benchDecoder) restart() { d.raw, d.skipping = d.raw[:0], false }

func (d *benchDecoder) forget() {
	for _, l := range d.last {
		l.have = false
	}
}

func (d *benchDecoder) Idle(emit func(Sample, error)) {
	if len(d.raw) > 0 && !d.skipping {
		emit(Sample{}, frameError(d.raw, "the line fell silent in the middle of a frame; read again"))
	}
	d.restart()
}

func (d *benchDecoder) Feed(p []byte, emit func(Sample, error)) {
	for _, b := range p {
		switch {
		case b == '\n':
			if !d.skipping && len(bytes.TrimRight(d.raw, "\r")) > 0 {
				d.raw = append(d.raw, b)
				d.ended(emit)
			}
			d.restart()
		case d.skipping:
		case len(d.raw) >= maxLine:
			emit(Sample{}, frameError(d.raw, "no end of line in %d bytes; are the line settings right?", maxLine))
			d.skipping = true
		default:
			d.raw = append(d.raw, b)
		}
	}
}

// ended handles a line whose LF has come.
func (d *benchDecoder) ended(emit func(Sample, error)) {
	s, why, noise := d.line(d.raw[:len(d.raw)-1])
	switch {
	case noise:
		err := frameError(d.raw, "%s: noise on its way, or the gauge began or stopped in the middle", why)
		err.Noise, err.Channel = true, s.Channel
		emit(Sample{}, err)
	case why != "":
		emit(Sample{}, frameError(d.raw, "%s; is the profile right?", why))
	case s.Channel != "" || s.Key != "" || s.Gone:
		s.Frame = d.raw
		emit(s, nil)
	}
}

// benchBody checks what every line has: printable characters, one colon in front, a check sum that fits where one is sent.
// It gives the line without its check sum.
func benchBody(b []byte) (body []byte, checked bool, why string) {
	if len(b) > 0 && b[len(b)-1] == '\r' {
		b = b[:len(b)-1]
	}
	for _, c := range b {
		if c < ' ' || c > '~' {
			return nil, false, fmt.Sprintf("the byte 0x%02x is no printable character", c)
		}
	}
	if n := len(b); n >= 4 && b[n-4] == ' ' && b[n-3] == '*' {
		hi, ok1 := hexDigit(b[n-2])
		lo, ok2 := hexDigit(b[n-1])
		sum := crc8(b[:n-4])
		if !ok1 || !ok2 || hi<<4|lo != sum {
			return nil, false, fmt.Sprintf("check sum %s, its bytes give %02X", quoteBytes(b[n-3:]), sum)
		}
		b, checked = b[:n-4], true
	}
	if len(b) == 0 || b[0] != benchMark || bytes.IndexByte(b[1:], benchMark) >= 0 {
		return nil, checked, "a line begins with a colon, and has no other"
	}
	return b, checked, ""
}

// line reads one line without its LF; why is "" where it is good, and noise says that it was spoilt before it was sent. A
// line that says nothing about a gauge gives an empty sample.
func (d *benchDecoder) line(b []byte) (s Sample, why string, noise bool) {
	b, checked, why := benchBody(b)
	if why == "" && d.b.Checked && !checked {
		why = "no check sum"
	}
	if why != "" {
		return s, why, false
	}
	first, rest, ok := bytes.Cut(b[1:], []byte{' '})
	if !ok || !validBenchName(first) {
		return s, quoteBytes(first) + " is not a channel", false
	}
	word, rest2, _ := bytes.Cut(rest, []byte{' '})
	switch {
	case string(first) == "key":
		if !validBenchName(rest) {
			return s, quoteBytes(rest) + " is not a key's name", false
		}
		return Sample{Key: d.names.of(rest), Text: b}, "", false
	case string(first) == "bridge" && (string(word) == "start" || string(word) == "here"):
		s, why = d.bridge(string(word) == "start", rest2)
		s.Text = b
		return s, why, false
	case len(d.channels) > 0 && !d.channels[string(first)]:
		return s, quoteBytes(first) + " is not a channel of the profile (" + strings.Join(d.b.Channels, ", ") + ")", false
	}
	channel := d.names.of(first)
	switch {
	case string(rest) == "gone":
		if l := d.last[channel]; l != nil {
			l.have = false
		}
		s.Gone = true
	case string(word) == "bits":
		s, why, noise = d.rawBits(channel, rest2)
	default:
		s, why = d.reading(word, rest2)
	}
	s.Channel, s.Text = channel, b
	return s, why, noise
}

// bridge reads what a bridge says about itself.
func (d *benchDecoder) bridge(start bool, version []byte) (s Sample, why string) {
	v, wrong := parseDigits(version, 0)
	if wrong != "" || v.digits < 1 {
		return s, quoteBytes(version) + " is no version of a bridge"
	}
	d.newer = 0
	if v.digits > benchVersion {
		d.newer = v.digits
		return s, newerBridge(v.digits)
	}
	if start {
		d.forget()
		s.Gone = true
	}
	return s, ""
}

// reading reads the number, the unit and the states of a line.
func (d *benchDecoder) reading(number, rest []byte) (s Sample, why string) {
	if len(rest) == 0 {
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
