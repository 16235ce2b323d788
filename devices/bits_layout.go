package devices

import "strings"

// span is where a field lies, with its name in the file.
type span struct {
	path     string
	at, bits int
}

func (c *bitsCodec) spans() []span {
	b := c.b
	n := b.Number
	width := map[string]int{"bcd": 4, "digit": 8, "ascii": 8, "binary": 1, "twos": 1}[n.Coding]
	list := []span{{"bits.number", n.At, n.Count * width}}
	add := func(path string, f *Field) {
		if f != nil {
			list = append(list, span{path, f.At, f.Bits})
		}
	}
	add("bits.sign", b.Sign)
	// One field may say unit and places both: inches with four, millimetres with three.
	if p, u := b.Places, b.Unit; p != nil && (u == nil || p.At != u.At || p.Bits != u.Bits) {
		add("bits.places", p)
	}
	add("bits.unit_field", b.Unit)
	add("bits.channel", b.Chan)
	for i := range b.Status {
		add("bits.status", &b.Status[i])
	}
	for _, f := range b.Fixed {
		list = append(list, span{"bits.fixed", f.At, f.Bits})
	}
	if b.Check != nil {
		list = append(list, span{"bits.check", b.Check.At, checkBits[b.Check.Kind]})
	}
	return list
}

// checkOverlap refuses two fields over one bit.
func (c *bitsCodec) checkOverlap() error {
	taken := make([]string, 8*c.b.Length)
	for _, s := range c.spans() {
		for i := s.at; i < s.at+s.bits; i++ {
			if taken[i] != "" {
				return fieldError(s.path, "bit %d belongs to %s already", i, strings.TrimPrefix(taken[i], "bits."))
			}
			taken[i] = s.path
		}
	}
	return nil
}

// shiftSafe reports whether a frame's length of bytes that begins inside one frame and ends inside the next can never
// pass for a frame: for each shift some byte's known bits differ. It looks at fixed bits, bits that no listed value of
// a field can set or clear, and digits in ASCII.
func (c *bitsCodec) shiftSafe() bool {
	n := c.b.Length
	mask, value := c.known()
	for shift := 1; shift < n; shift++ {
		differs := false
		for i := range n {
			j := (i + shift) % n
			differs = differs || mask[i]&mask[j]&(value[i]^value[j]) != 0
		}
		if !differs {
			return false
		}
	}
	return n > 1
}

// known gives for each byte the bits that are the same in every good frame.
func (c *bitsCodec) known() (mask, value []byte) {
	mask, value = make([]byte, c.b.Length), make([]byte, c.b.Length)
	set := func(bit int, one bool) {
		m := c.bitMask(bit)
		mask[bit/8] |= m
		if one {
			value[bit/8] |= m
		}
	}
	field := func(at, n int, always, never uint64) {
		for i := range n {
			k := i
			if c.b.Order == "high" {
				k = n - 1 - i
			}
			if always>>k&1 == 1 {
				set(at+i, true)
			} else if never>>k&1 == 1 {
				set(at+i, false)
			}
		}
	}
	for _, f := range c.b.Fixed {
		field(f.At, f.Bits, f.Value, ^f.Value)
	}
	fields := []*Field{c.b.Sign, c.b.Places, c.b.Unit, c.b.Chan}
	for i := range c.b.Status {
		fields = append(fields, &c.b.Status[i])
	}
	for _, f := range fields {
		if f == nil {
			continue
		}
		always, never := ^uint64(0), ^uint64(0)
		for v := range f.Values {
			always &= v
			never &= ^v
		}
		field(f.At, f.Bits, always, never)
	}
	num := c.b.Number
	switch num.Coding {
	case "ascii":
		for i := range num.Count {
			field(num.At+8*i, 8, 0x30, 0xC0)
		}
	case "digit":
		for i := range num.Count {
			field(num.At+8*i, 8, 0, 0xF0)
		}
	}
	return mask, value
}

func (c *bitsCodec) bitMask(bit int) byte {
	if c.b.Order == "high" {
		return 0x80 >> (bit % 8)
	}
	return 1 << (bit % 8)
}
