package devices

import (
	"bytes"
	"math/bits"

	"thoud/calc/quantity"
)

// textDecoder frames and matches lines. The bytes are kept twice: as they came, and with a 7-bit line's eighth bit
// taken off.
type textDecoder struct {
	*textCodec
	raw, clean []byte
	skipping   bool // the line is too long: wait for its end
	unsure     bool // the next byte may be in the middle of a line
	slid       int  // bytes dropped since the last good line of a fixed length
	out        []Sample
	names      names
}

var _ Decoder = (*textDecoder)(nil)

func (c *textCodec) decoder() Decoder {
	d := &textDecoder{textCodec: c, names: names{}}
	d.Reset()
	return d
}

func (d *textDecoder) Reset() {
	d.clear()
	d.skipping, d.slid = false, 0
	d.unsure = !d.anchored && !d.polled && !d.t.Gap
}

func (d *textDecoder) Idle(emit func(Sample, error)) {
	switch {
	case len(d.raw) == 0 || d.skipping:
	case d.t.Gap:
		d.line(len(d.clean), emit)
	default:
		emit(Sample{}, frameError(d.raw, "the line fell silent in the middle of a frame; read again"))
	}
	d.clear()
	d.skipping, d.unsure, d.slid = false, false, 0
}

func (d *textDecoder) clear() { d.raw, d.clean = d.raw[:0], d.clean[:0] }

func (d *textDecoder) Feed(p []byte, emit func(Sample, error)) {
	for _, b := range p {
		d.raw = append(d.raw, b)
		d.clean = append(d.clean, b&d.mask)
		if d.t.Length > 0 {
			d.fixed(emit)
			continue
		}
		if d.end != "" && bytes.HasSuffix(d.clean, []byte(d.end)) {
			d.ended(emit)
		} else if len(d.raw) >= maxLine {
			if !d.skipping {
				emit(Sample{}, frameError(d.raw, "no end of line in %d bytes; are the line settings right?", maxLine))
			}
			d.skipping = true
			keep := max(len(d.end)-1, 0)
			d.raw = append(d.raw[:0], d.raw[len(d.raw)-keep:]...)
			d.clean = append(d.clean[:0], d.clean[len(d.clean)-keep:]...)
		}
	}
}

// ended handles a line whose terminator has come.
func (d *textDecoder) ended(emit func(Sample, error)) {
	unsure, skipping := d.unsure, d.skipping
	d.unsure, d.skipping = false, false
	switch {
	case skipping: // its beginning was refused already
	case unsure && len(d.raw) > len(d.end):
		emit(Sample{}, frameError(d.raw, "the first line after opening may have lost its beginning; read again"))
	default:
		d.line(len(d.clean)-len(d.end), emit)
	}
	d.clear()
}

// fixed handles lines of a fixed length: where they do not fit, bytes are dropped until they do.
func (d *textDecoder) fixed(emit func(Sample, error)) {
	for len(d.raw) >= d.t.Length {
		d.out = d.out[:0]
		err := d.match(d.raw, d.clean)
		if err == nil {
			for _, s := range d.out {
				emit(s, nil)
			}
			d.slid = 0
			d.clear()
			return
		}
		// Where the line begins as one should, it is this frame that is spoilt; say so once for each length of garbage.
		if d.slid%d.t.Length == 0 {
			emit(Sample{}, err)
		}
		d.slid++
		d.raw = append(d.raw[:0], d.raw[1:]...)
		d.clean = append(d.clean[:0], d.clean[1:]...)
	}
}

// line takes one whole line, n bytes without its terminator: all of its readings or none.
func (d *textDecoder) line(n int, emit func(Sample, error)) {
	body := d.clean[:n]
	if n == 0 {
		return // an empty line says nothing
	}
	for _, w := range d.t.Ignore {
		if string(body) == w {
			return
		}
	}
	d.out = d.out[:0]
	if d.t.Separator == "" {
		if err := d.match(d.raw, body); err != nil {
			emit(Sample{}, err)
			return
		}
		if len(d.t.Channels) == 1 {
			d.out[0].Channel = d.t.Channels[0]
		}
	} else if err := d.pieces(body); err != nil {
		emit(Sample{}, err)
		return
	}
	for _, s := range d.out {
		emit(s, nil)
	}
}

// pieces matches the readings of several channels on one line.
func (d *textDecoder) pieces(body []byte) error {
	sep := []byte(d.t.Separator)
	blank := d.t.Separator == " "
	for rest, more := body, true; more; {
		piece := rest
		if i := bytes.Index(rest, sep); i >= 0 {
			piece, rest = rest[:i], rest[i+len(sep):]
		} else {
			more = false
		}
		if blank && len(piece) == 0 {
			continue
		}
		if err := d.match(d.raw, piece); err != nil {
			return err
		}
		last := len(d.out) - 1
		if len(d.t.Channels) > 0 {
			if last >= len(d.t.Channels) {
				return frameError(d.raw, "more than %d readings on the line; is the profile right?", len(d.t.Channels))
			}
			d.out[last].Channel = d.t.Channels[last]
		}
		for _, s := range d.out[:last] {
			if s.Channel == d.out[last].Channel {
				return frameError(d.raw, "channel %q stands twice on the line; is the profile right?", s.Channel)
			}
		}
	}
	if len(d.out) == 0 || len(d.t.Channels) > 0 && len(d.out) != len(d.t.Channels) {
		return frameError(d.raw, "%d readings on the line, want %d; is the profile right?", len(d.out), len(d.t.Channels))
	}
	return nil
}

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
