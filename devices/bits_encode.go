package devices

import (
	"fmt"
	"math/big"

	"thoud/calc/quantity"
)

// encode writes one frame.
func (c *bitsCodec) encode(samples []Sample) ([]byte, error) {
	if len(samples) != 1 {
		return nil, fmt.Errorf("%d readings: a frame has one", len(samples))
	}
	s, b := samples[0], &c.b
	frame := make([]byte, b.Length)
	for _, f := range b.Fixed {
		c.put(frame, f.At, f.Bits, f.Value)
	}
	rest := s.Status
	for i := range b.Status {
		v, st, ok := best(c.status[i], rest)
		if !ok {
			return nil, fmt.Errorf("status %q: the profile has no value for it", s.Status)
		}
		rest &^= st
		c.put(frame, b.Status[i].At, b.Status[i].Bits, v)
	}
	if rest != 0 {
		return nil, fmt.Errorf("status %q: the profile has no value for it", rest)
	}
	if b.Chan != nil {
		if !c.putMeaning(frame, b.Chan, s.Channel) {
			return nil, fmt.Errorf("channel %q: the profile has no value for it", s.Channel)
		}
	} else if s.Channel != "" {
		return nil, fmt.Errorf("channel %q: the profile has no channels", s.Channel)
	}
	if s.Value.Valid() {
		if err := c.encodeValue(frame, s.Value); err != nil {
			return nil, err
		}
	} else {
		if s.Status&(Overload|Fault) == 0 {
			return nil, fmt.Errorf("a frame without a value")
		}
		c.putDefaults(frame)
	}
	if b.Check != nil {
		c.checkWrite(frame)
	}
	return frame, nil
}

// putDefaults fills the value's fields of a frame that carries none with what the profile knows.
func (c *bitsCodec) putDefaults(frame []byte) {
	for _, f := range []*Field{c.b.Sign, c.b.Places, c.b.Unit} {
		if f != nil {
			c.put(frame, f.At, f.Bits, least(f.Values))
		}
	}
	c.putNumber(frame, 0)
}

func least(m map[uint64]string) uint64 {
	low := ^uint64(0)
	for v := range m {
		low = min(low, v)
	}
	return low
}

// best finds the value that says most of a status and nothing else.
func best(m map[uint64]Status, s Status) (value uint64, said Status, ok bool) {
	for v, st := range m {
		if s&st != st {
			continue
		}
		if !ok || st > said || st == said && v < value {
			value, said, ok = v, st, true
		}
	}
	return value, said, ok
}

func (c *bitsCodec) putMeaning(frame []byte, f *Field, meaning string) bool {
	found := false
	var value uint64
	for v, m := range f.Values {
		if m == meaning && (!found || v < value) {
			value, found = v, true
		}
	}
	if found {
		c.put(frame, f.At, f.Bits, value)
	}
	return found
}

func (c *bitsCodec) encodeValue(frame []byte, v quantity.Value) error {
	b := &c.b
	unit := c.unit
	if b.Unit != nil {
		if !c.putMeaning(frame, b.Unit, v.Unit.Code) {
			return fmt.Errorf("%s: the profile has no value for its unit", v)
		}
		unit = v.Unit
	}
	r, err := inUnit(v, unit)
	if err != nil {
		return err
	}
	r.Quo(r, new(big.Rat).SetFrac(big.NewInt(c.scale.digits), pow10(c.scale.places)))
	places := b.Decimals
	if b.Places != nil {
		places = max(v.Places-c.scale.places, 0)
		if !c.putMeaning(frame, b.Places, fmt.Sprint(places)) {
			return fmt.Errorf("%s: the profile has no value for %d places", v, places)
		}
		if u := b.Unit; u != nil && c.units[c.get(frame, u.At, u.Bits)].Code != v.Unit.Code {
			return fmt.Errorf("%s: the profile sends other places in %q", v, v.Unit.Code)
		}
	}
	r.Mul(r, new(big.Rat).SetInt(pow10(places)))
	if !r.IsInt() || !r.Num().IsInt64() {
		return fmt.Errorf("%s is finer than the %d places the gauge sends", v, places)
	}
	n := r.Num().Int64()
	if b.Sign != nil {
		sign := "+"
		if n < 0 {
			sign, n = "-", -n
		}
		if !c.putMeaning(frame, b.Sign, sign) {
			return fmt.Errorf("%s: the profile has no value for its sign", v)
		}
	}
	if !c.putNumber(frame, n) {
		return fmt.Errorf("%s does not fit into the number's field", v)
	}
	return nil
}

// putNumber writes the digits; false where they do not fit.
func (c *bitsCodec) putNumber(frame []byte, v int64) bool {
	n := c.b.Number
	switch n.Coding {
	case "binary", "twos":
		lo, hi := int64(0), int64(1)<<n.Count-1
		if n.Coding == "twos" {
			lo, hi = -(int64(1) << (n.Count - 1)), int64(1)<<(n.Count-1)-1
		}
		if v < lo || v > hi {
			return false
		}
		if n.Count%8 != 0 {
			c.put(frame, n.At, n.Count, uint64(v)&(1<<n.Count-1))
			return true
		}
		for i := 0; i < n.Count; i += 8 {
			k := n.Count - 8 - i
			if n.First == "low" {
				k = i
			}
			c.put(frame, n.At+k, 8, uint64(v)>>i&0xFF)
		}
		return true
	}
	width, base := 8, uint64(0)
	switch n.Coding {
	case "bcd":
		width = 4
	case "ascii":
		base = '0'
	}
	if v < 0 {
		return false
	}
	for i := n.Count - 1; i >= 0; i-- {
		k := i
		if n.First == "low" {
			k = n.Count - 1 - i
		}
		c.put(frame, n.At+width*k, width, uint64(v%10)+base)
		v /= 10
	}
	return v == 0
}
