package devices

import (
	"fmt"

	"thoud/calc/quantity"
)

// Bits is a gauge that sends frames of raw digits or bits, all equally long. The frame is one string of bits: bit 0 is
// the first bit of the first byte, where Order says whether a byte's high or low bit is its first. Every field lies at
// so many bits from the beginning.
type Bits struct {
	Length int    // bytes a frame
	Order  string // the first bit of a byte: "high" or "low"; a field's bits count the same way
	Gap    bool   // frames are told apart by the silence around them: for a data key or a polled gauge only
	Number Digits
	Sign   *Field // values "+" and "-"; without it the number is positive, or in two's complement
	Places *Field // values are decimal places; without it Decimals counts
	Unit   *Field // values are unit codes; without it DefaultUnit counts
	Status []Field
	Chan   *Field // values are channel names

	Decimals    int    // decimal places where no field says them
	DefaultUnit string // where no field says it
	Scale       string
	Fixed       []Fixed // bits that are the same in every frame
	Check       *Check
}

// Digits is where the number lies and how it is coded.
type Digits struct {
	At     int
	Count  int    // digits; for binary and twos: bits
	Coding string // "bcd" 4 bits a digit, "digit" a byte a digit, "ascii" a byte a digit from 0x30, "binary", "twos"
	First  string // which digit, or of a binary number which byte, comes first: "high" or "low"
}

// Field is a few bits whose values mean something; a value that is not listed spoils the frame.
type Field struct {
	At, Bits int
	Values   map[uint64]string
}

// Fixed is a few bits that are the same in every frame.
type Fixed struct {
	At, Bits int
	Value    uint64
}

// Check is a check sum over whole bytes, or over half bytes.
type Check struct {
	Kind     string // "sum8", "xor8", "sum4" (of half bytes), "crc8" (SMBUS), "crc16" (MODBUS, low byte first)
	At       int    // bit where it lies
	From, To int    // bytes it is made of: From up to, not including, To
}

const maxBitsFrame = 32 // bytes

type bitsCodec struct {
	b      Bits
	sign   map[uint64]bool // negative
	places map[uint64]int
	units  map[uint64]quantity.Unit
	status []map[uint64]Status
	unit   quantity.Unit
	scale  decimal
	polled bool
}

func (p Profile) compileBits() (codec, error) {
	if p.Bits == nil {
		return nil, missingTable("bits")
	}
	c := &bitsCodec{b: *p.Bits, polled: p.Poll.Polled()}
	b := &c.b
	switch {
	case p.Line.DataBits != 8:
		return nil, fieldError("line.data_bits", "%d: bit fields need 8", p.Line.DataBits)
	case b.Length < 1 || b.Length > maxBitsFrame:
		return nil, fieldError("bits.length", "%d: want 1 to %d bytes", b.Length, maxBitsFrame)
	case b.Order != "high" && b.Order != "low":
		return nil, fieldError("bits.order", "%q: want \"high\" or \"low\", the bit of a byte that is its first", b.Order)
	case b.Decimals < 0 || b.Decimals > 12:
		return nil, fieldError("bits.decimals", "%d: want 0 to 12", b.Decimals)
	}
	var err error
	if c.scale, err = parseScale("bits.scale", b.Scale); err != nil {
		return nil, err
	}
	if b.DefaultUnit != "" {
		if c.unit, err = quantity.UnitOf(b.DefaultUnit); err != nil {
			return nil, fieldError("bits.unit", "%v", err)
		}
	} else if b.Unit == nil {
		return nil, fieldError("bits.unit", "missing: the unit of the numbers, or the field that says it")
	}
	if err := c.compileNumber(); err != nil {
		return nil, err
	}
	if err := c.compileFields(); err != nil {
		return nil, err
	}
	if err := c.checkOverlap(); err != nil {
		return nil, err
	}
	if !b.Gap && !c.shiftSafe() {
		return nil, fieldError("bits.fixed", "a frame read from its middle could pass for a frame: give fixed bits that show where it begins, or gap = true for a gauge that sends on its key or when asked only")
	}
	return c, nil
}

func (c *bitsCodec) compileNumber() error {
	n := c.b.Number
	width, ok := map[string]int{"bcd": 4, "digit": 8, "ascii": 8, "binary": 1, "twos": 1}[n.Coding]
	switch {
	case !ok:
		return fieldError("bits.number.coding", "%q: want bcd, digit, ascii, binary or twos", n.Coding)
	case n.First != "high" && n.First != "low":
		return fieldError("bits.number.first", "%q: want \"high\" or \"low\", the digit or byte that comes first", n.First)
	case n.Count < 1 || width > 1 && n.Count > 12 || n.Count > 63:
		return fieldError("bits.number.count", "%d: want 1 to 12 digits or 1 to 63 bits", n.Count)
	case n.Coding == "twos" && c.b.Sign != nil:
		return fieldError("bits.sign", "a number in two's complement has its sign already")
	case width == 1 && n.Count%8 != 0 && n.First != c.b.Order:
		return fieldError("bits.number.first", "%d bits are no whole bytes, so they come as order says: %q", n.Count, c.b.Order)
	}
	return c.inside("bits.number", n.At, n.Count*width)
}

func (c *bitsCodec) inside(path string, at, n int) error {
	if at < 0 || n < 1 || at+n > 8*c.b.Length {
		return fieldError(path, "bits %d to %d: the frame has bits 0 to %d", at, at+n-1, 8*c.b.Length-1)
	}
	return nil
}

func (c *bitsCodec) field(path string, f *Field) error {
	if err := c.inside(path, f.At, f.Bits); err != nil {
		return err
	}
	if f.Bits > 16 {
		return fieldError(path, "%d bits: want 1 to 16", f.Bits)
	}
	if len(f.Values) == 0 {
		return fieldError(path+".values", "missing: what each value means")
	}
	for v := range f.Values {
		if v >= 1<<f.Bits {
			return fieldError(path+".values", "%d does not fit into %d bits", v, f.Bits)
		}
	}
	return nil
}

// meanings checks a field and reads what each of its values means; nil for a field that the profile has not.
func meanings[T any](c *bitsCodec, path string, f *Field, read func(text string) (T, error)) (map[uint64]T, error) {
	if f == nil {
		return nil, nil
	}
	if err := c.field(path, f); err != nil {
		return nil, err
	}
	out := map[uint64]T{}
	for v, text := range f.Values {
		m, err := read(text)
		if err != nil {
			return nil, fieldError(path+".values", "%v", err)
		}
		out[v] = m
	}
	return out, nil
}

func (c *bitsCodec) compileFields() (err error) {
	b := &c.b
	if c.sign, err = meanings(c, "bits.sign", b.Sign, readSign); err != nil {
		return err
	}
	if c.places, err = meanings(c, "bits.places", b.Places, readPlaces); err != nil {
		return err
	}
	if c.units, err = meanings(c, "bits.unit_field", b.Unit, quantity.UnitOf); err != nil {
		return err
	}
	for i := range b.Status {
		m, err := meanings(c, "bits.status", &b.Status[i], readState)
		if err != nil {
			return err
		}
		c.status = append(c.status, m)
	}
	if f := b.Chan; f != nil {
		if err := c.field("bits.channel", f); err != nil {
			return err
		}
	}
	return c.compileChecks()
}

func readSign(s string) (negative bool, err error) {
	if s != "+" && s != "-" {
		return false, fmt.Errorf("%q: want \"+\" or \"-\"", s)
	}
	return s == "-", nil
}

func readPlaces(s string) (int, error) {
	d, why := parseDigits([]byte(s), 0)
	if why != "" || d.digits > 12 {
		return 0, fmt.Errorf("%q: want 0 to 12", s)
	}
	return int(d.digits), nil
}

// readState reads a state's name; "" says nothing.
func readState(s string) (Status, error) {
	if s == "" {
		return 0, nil
	}
	return ParseStatus(s)
}

func (c *bitsCodec) compileChecks() error {
	b := &c.b
	for _, f := range b.Fixed {
		if err := c.inside("bits.fixed", f.At, f.Bits); err != nil {
			return err
		}
		if f.Bits > 63 || f.Value >= 1<<f.Bits {
			return fieldError("bits.fixed", "value %d does not fit into %d bits", f.Value, f.Bits)
		}
	}
	if k := b.Check; k != nil {
		n, ok := checkBits[k.Kind]
		if !ok {
			return fieldError("bits.check.kind", "%q: want sum8, xor8, sum4, crc8 or crc16", k.Kind)
		}
		if err := c.inside("bits.check", k.At, n); err != nil {
			return err
		}
		if k.From < 0 || k.To <= k.From || k.To > b.Length {
			return fieldError("bits.check", "bytes %d to %d: the frame has %d", k.From, k.To, b.Length)
		}
		if k.At < 8*k.To && k.At+n > 8*k.From {
			return fieldError("bits.check", "the check sum lies within the bytes it is made of")
		}
		if k.Kind == "crc16" && k.At%8 != 0 {
			return fieldError("bits.check.at", "%d: a crc16 begins with a byte", k.At)
		}
	}
	return nil
}

var checkBits = map[string]int{"sum8": 8, "xor8": 8, "sum4": 4, "crc8": 8, "crc16": 16}
