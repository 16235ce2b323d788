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
	f := &d.fitting
	*f = fitting{line: b, unit: d.unit, names: d.names}
	for _, e := range p.parts {
		if text, why := e.match(f); why != "" {
			return Sample{}, mismatch{at: f.at, text: text, why: why}
		}
	}
	if f.at < len(b) {
		return Sample{}, mismatch{at: f.at, text: f.rest(), why: "is left over at the end"}
	}
	s := Sample{Channel: f.channel, Status: f.status}
	if p.number == nil || f.status&(Overload|Fault) != 0 {
		return s, mismatch{}
	}
	if f.neg {
		f.num.digits = -f.num.digits
	}
	v, ok := f.num.times(d.scale)
	if !ok {
		return Sample{}, mismatch{at: len(b), text: b, why: "is out of range"}
	}
	value, err := quantity.Make(v.digits, v.places, f.unit)
	if err != nil {
		return Sample{}, mismatch{at: len(b), why: "value", err: err}
	}
	s.Value, s.Unnamed = value, !f.named
	return s, mismatch{}
}
