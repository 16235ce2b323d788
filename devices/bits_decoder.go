package devices

import (
	"fmt"

	"thoud/calc/quantity"
)

type bitsDecoder struct {
	*bitsCodec
	raw   []byte
	extra bool // between two silences came more than one frame
	slid  int  // bytes dropped since the last good frame
}

var _ Decoder = (*bitsDecoder)(nil)

func (c *bitsCodec) decoder() Decoder { return &bitsDecoder{bitsCodec: c} }

func (d *bitsDecoder) Reset() { d.raw, d.extra, d.slid = d.raw[:0], false, 0 }

// Idle ends the frame of a gauge whose frames are told apart by silence: exactly one frame's bytes are a frame.
func (d *bitsDecoder) Idle(emit func(Sample, error)) {
	switch {
	case len(d.raw) == 0 || d.slid > 0: // nothing, or refused already
	case d.b.Gap && d.extra:
		emit(Sample{}, frameError(d.raw, "more than the %d bytes of a frame without a silence between; read again", d.b.Length))
	case len(d.raw) < d.b.Length:
		emit(Sample{}, frameError(d.raw, "the line fell silent after %d of %d bytes; read again", len(d.raw), d.b.Length))
	default:
		d.frame(emit)
	}
	d.Reset()
}

func (d *bitsDecoder) Feed(p []byte, emit func(Sample, error)) {
	for _, b := range p {
		if d.b.Gap {
			if d.extra = d.extra || len(d.raw) == d.b.Length; len(d.raw) < 2*maxBitsFrame {
				d.raw = append(d.raw, b)
			}
			continue
		}
		d.raw = append(d.raw, b)
		for len(d.raw) >= d.b.Length && !d.frame(emit) {
			d.slid++
			d.raw = append(d.raw[:0], d.raw[1:]...)
		}
	}
}

// frame takes the bytes for a frame; it reports whether they were one. Between good frames every length of garbage is
// refused once.
func (d *bitsDecoder) frame(emit func(Sample, error)) bool {
	s, why := d.read(d.raw)
	if why != "" {
		if d.slid%d.b.Length == 0 {
			emit(Sample{}, frameError(d.raw, "%s; is the profile right?", why))
		}
		return false
	}
	s.Frame, s.Text = d.raw, d.raw
	emit(s, nil)
	d.raw, d.slid = d.raw[:0], 0
	return true
}

// read takes a frame apart; why is "" where every bit of it fits.
func (c *bitsCodec) read(frame []byte) (s Sample, why string) {
	b := &c.b
	for i := range b.Fixed {
		f := &b.Fixed[i]
		if v := c.get(frame, f.At, f.Bits); v != f.Value {
			return s, fmt.Sprintf("bits %d to %d are %d, fixed at %d", f.At, f.At+f.Bits-1, v, f.Value)
		}
	}
	if b.Check != nil {
		if got, want := c.checkRead(frame), c.checkSum(frame); got != want {
			return s, fmt.Sprintf("check sum %X, its bytes give %X", got, want)
		}
	}
	unknown := func(name string, f *Field, v uint64) string {
		return fmt.Sprintf("%s %d (bits %d to %d) is none of the profile's", name, v, f.At, f.At+f.Bits-1)
	}
	for i := range b.Status {
		v := c.get(frame, b.Status[i].At, b.Status[i].Bits)
		st, ok := c.status[i][v]
		if !ok {
			return s, unknown("status", &b.Status[i], v)
		}
		s.Status |= st
	}
	if b.Chan != nil {
		v := c.get(frame, b.Chan.At, b.Chan.Bits)
		name, ok := b.Chan.Values[v]
		if !ok {
			return s, unknown("channel", b.Chan, v)
		}
		s.Channel = name
	}
	if s.Status&(Overload|Fault) != 0 {
		return s, ""
	}
	n := decimal{places: b.Decimals}
	if n.digits, why = c.number(frame); why != "" {
		return s, why
	}
	if b.Sign != nil {
		v := c.get(frame, b.Sign.At, b.Sign.Bits)
		neg, ok := c.sign[v]
		if !ok {
			return s, unknown("sign", b.Sign, v)
		}
		if neg {
			n.digits = -n.digits
		}
	}
	if b.Places != nil {
		v := c.get(frame, b.Places.At, b.Places.Bits)
		places, ok := c.places[v]
		if !ok {
			return s, unknown("places", b.Places, v)
		}
		n.places = places
	}
	unit := c.unit
	if b.Unit != nil {
		v := c.get(frame, b.Unit.At, b.Unit.Bits)
		u, ok := c.units[v]
		if !ok {
			return s, unknown("unit", b.Unit, v)
		}
		unit = u
	}
	n, ok := n.times(c.scale)
	if !ok {
		return s, "out of range"
	}
	v, err := quantity.Make(n.digits, n.places, unit)
	if err != nil {
		return s, err.Error()
	}
	s.Value, s.Unnamed = v, b.Unit == nil
	return s, ""
}

// number reads the digits.
func (c *bitsCodec) number(frame []byte) (int64, string) {
	n := c.b.Number
	switch n.Coding {
	case "binary", "twos":
		v := c.binary(frame)
		if n.Coding == "twos" && v>>(n.Count-1)&1 == 1 {
			return int64(v) - int64(1)<<n.Count, ""
		}
		return int64(v), ""
	}
	width, base := 8, uint64(0)
	switch n.Coding {
	case "bcd":
		width = 4
	case "ascii":
		base = '0'
	}
	var v int64
	for i := range n.Count {
		k := i
		if n.First == "low" {
			k = n.Count - 1 - i
		}
		d := c.get(frame, n.At+width*k, width) - base
		if d > 9 {
			return 0, fmt.Sprintf("digit %d is 0x%X, no decimal digit", k+1, d+base)
		}
		v = 10*v + int64(d)
	}
	return v, ""
}

func (c *bitsCodec) binary(frame []byte) uint64 {
	n := c.b.Number
	if n.Count%8 != 0 {
		return c.get(frame, n.At, n.Count)
	}
	var v uint64
	for i := 0; i < n.Count; i += 8 {
		k := i
		if n.First == "low" {
			k = n.Count - 8 - i
		}
		v = v<<8 | c.get(frame, n.At+k, 8)
	}
	return v
}
