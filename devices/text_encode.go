package devices

import (
	"fmt"
	"math/big"
	"math/bits"
	"strings"

	"thoud/calc/quantity"
)

// encode writes one line with these samples, by the first pattern that can carry them; on a line of 7 bits with even or
// odd parity the eighth bit carries it.
func (c *textCodec) encode(samples []Sample) ([]byte, error) {
	if len(samples) == 0 {
		return nil, fmt.Errorf("nothing to send")
	}
	if len(samples) > 1 && c.t.Separator == "" {
		return nil, fmt.Errorf("%d readings: the profile sends one a line", len(samples))
	}
	if n := len(c.t.Channels); n > 0 && c.t.Separator != "" && len(samples) != n {
		return nil, fmt.Errorf("%d readings: the profile sends %d a line", len(samples), n)
	}
	var pieces []string
	for i, s := range samples {
		if n := len(c.t.Channels); n > 0 && s.Channel != c.t.Channels[i] {
			return nil, fmt.Errorf("reading %d is of channel %q: the profile has %q there", i+1, s.Channel, c.t.Channels[i])
		}
		piece, err := c.piece(s)
		if err != nil {
			return nil, err
		}
		pieces = append(pieces, piece)
	}
	b := []byte(strings.Join(pieces, c.t.Separator) + c.t.End)
	if c.parity != "" {
		for i, x := range b {
			if (bits.OnesCount8(x)%2 == 0) != (c.parity == "even") {
				b[i] |= 0x80
			}
		}
	}
	return b, nil
}

// piece writes one sample by the first pattern that can carry it; the error is the first pattern's.
func (c *textCodec) piece(s Sample) (text string, err error) {
	for i := range c.patterns {
		text, why := c.write(&c.patterns[i], s)
		if why == nil {
			return text, nil
		}
		if err == nil {
			err = why
		}
	}
	return "", err
}

// write fills one pattern with a sample.
func (c *textCodec) write(p *pattern, s Sample) (string, error) {
	if s.Value.Valid() != (p.number != nil) {
		return "", fmt.Errorf("pattern %q and value %s", p.text, s.Value)
	}
	if s.Channel != "" && p.channel == nil && len(c.t.Channels) == 0 {
		return "", fmt.Errorf("channel %q: the profile has no channels", s.Channel)
	}
	w := &writing{sample: s, status: s.Status}
	unit, err := c.unit, error(nil)
	if p.unit != nil {
		if w.unit, unit, err = p.unit.word(s.Value, c.unit); err != nil {
			return "", err
		}
	}
	if p.number != nil {
		if w.digits, w.neg, err = c.digits(s.Value, unit); err != nil {
			return "", err
		}
	}
	for _, e := range p.parts {
		if err := e.write(w); err != nil {
			return "", err
		}
	}
	if w.status != 0 {
		return "", fmt.Errorf("status %s: the profile has no word for it there", w.status)
	}
	return w.String(), nil
}

// digits gives the digits to send for a value in a unit, and its sign: the value divided by the profile's scale.
func (c *textCodec) digits(v quantity.Value, u quantity.Unit) (string, bool, error) {
	r, err := inUnit(v, u)
	if err != nil {
		return "", false, err
	}
	scale := new(big.Rat).SetFrac(big.NewInt(c.scale.digits), pow10(c.scale.places))
	r.Quo(r, scale)
	places := c.t.Places
	if places < 0 {
		places = max(v.Places-c.scale.places, 0)
	}
	n := new(big.Rat).Mul(r, new(big.Rat).SetInt(pow10(places)))
	if !n.IsInt() {
		return "", false, fmt.Errorf("%s is finer than the %d places the gauge sends", v, places)
	}
	s := new(big.Int).Abs(n.Num()).String()
	if len(s) <= places {
		s = strings.Repeat("0", places-len(s)+1) + s
	}
	if places > 0 {
		s = s[:len(s)-places] + c.t.Mark + s[len(s)-places:]
	}
	return s, n.Sign() < 0, nil
}

// inUnit gives the number of a value in a unit, exactly: a length in any unit of length, another kind in its own.
func inUnit(v quantity.Value, u quantity.Unit) (*big.Rat, error) {
	if v.Unit.Kind != quantity.Length || u.Kind != quantity.Length {
		if v.Unit.Code != u.Code {
			return nil, fmt.Errorf("%s: the profile sends %q", v, u.Code)
		}
		return new(big.Rat).SetFrac(big.NewInt(v.N), pow10(v.Places)), nil
	}
	one, err := quantity.Make(1, 0, u)
	if err != nil {
		return nil, err
	}
	return new(big.Rat).SetFrac64(v.N, one.N), nil
}

func pow10(n int) *big.Int { return new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n)), nil) }
