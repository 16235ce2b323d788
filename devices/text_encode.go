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
		var piece string
		var err error
		for j := range c.patterns {
			var why error
			if piece, why = c.write(&c.patterns[j], s); why == nil {
				err = nil
				break
			}
			if err == nil {
				err = why
			}
		}
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

// write fills one pattern with a sample.
func (c *textCodec) write(p *pattern, s Sample) (string, error) {
	if s.Value.Valid() != p.has['n'] {
		return "", fmt.Errorf("pattern %q and value %s", p.text, s.Value)
	}
	word, unit, err := c.unitWord(p, s.Value)
	if err != nil {
		return "", err
	}
	digits, neg := "", false
	if p.has['n'] {
		if digits, neg, err = c.digits(s.Value, unit); err != nil {
			return "", err
		}
	}
	status := s.Status
	if s.Channel != "" && !p.has['c'] && len(c.t.Channels) == 0 {
		return "", fmt.Errorf("channel %q: the profile has no channels", s.Channel)
	}
	var b strings.Builder
	for _, e := range p.elements {
		switch e.part {
		case 'l':
			b.WriteString(e.lit)
		case 'b':
			b.WriteByte(' ')
		case 'x':
			b.WriteString(strings.Repeat(" ", e.width))
		case 's':
			switch {
			case neg:
				b.WriteByte('-')
			case !e.optional:
				b.WriteByte('+')
			default:
				b.WriteByte(' ')
			}
		case 'n':
			d := digits
			pad := max(e.width-len(d), 0)
			sign := ""
			if !p.has['s'] && neg {
				sign = "-"
				pad = max(pad-1, 0)
			}
			switch {
			case e.filled:
				d = sign + strings.Repeat("0", pad) + d
			default:
				d = strings.Repeat(" ", pad) + sign + d
			}
			if e.width > 0 && len(d) != e.width {
				return "", fmt.Errorf("%s: %q is wider than %d", s.Value, d, e.width)
			}
			b.WriteString(d)
		case 'u':
			b.WriteString(padded(word, e.width))
		case 't':
			w, took, err := c.statusWord(e, status)
			if err != nil {
				return "", err
			}
			status &^= took
			b.WriteString(padded(w, e.width))
		case 'c':
			w, err := c.channelWord(s.Channel)
			if err != nil {
				return "", err
			}
			b.WriteString(padded(w, e.width))
		}
	}
	if status != 0 {
		return "", fmt.Errorf("status %s: the profile has no word for it there", status)
	}
	return b.String(), nil
}

func padded(w string, width int) string {
	return w + strings.Repeat(" ", max(width-len(w), 0))
}

// unitWord finds the word for the value's unit, or "" where the line brings none and the profile's unit counts.
func (c *textCodec) unitWord(p *pattern, v quantity.Value) (string, quantity.Unit, error) {
	if !p.has['u'] || !v.Valid() {
		if len(c.unitWords) > 0 && p.has['u'] {
			return c.unitWords[0], c.unit, nil
		}
		return "", c.unit, nil
	}
	for _, w := range c.unitWords {
		if c.units[w].Code == v.Unit.Code {
			return w, c.units[w], nil
		}
	}
	for _, e := range p.elements {
		if e.part == 'u' && e.optional && c.unit.Code == v.Unit.Code {
			return "", c.unit, nil
		}
	}
	return "", c.unit, fmt.Errorf("%s: the profile has no word for %q", v, v.Unit.Code)
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

func (c *textCodec) statusWord(e element, s Status) (string, Status, error) {
	for _, w := range c.statusWords {
		if st := c.status[w]; st != 0 && s&st == st {
			return w, st, nil
		}
	}
	for _, w := range c.statusWords {
		if c.status[w] == 0 {
			return w, 0, nil
		}
	}
	if e.optional {
		return "", 0, nil
	}
	return "", 0, fmt.Errorf("status %q: the profile has no word for it", s)
}

func (c *textCodec) channelWord(channel string) (string, error) {
	if len(c.channelWords) == 0 {
		if channel == "" {
			return "", fmt.Errorf("the profile names a channel and the reading has none")
		}
		return channel, nil
	}
	for _, w := range c.channelWords {
		if c.t.Channel[w] == channel {
			return w, nil
		}
	}
	return "", fmt.Errorf("channel %q: the profile has no word for it", channel)
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
