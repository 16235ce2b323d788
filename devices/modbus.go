package devices

import (
	"fmt"
	"math"
	"math/big"
	"time"

	"thoud/calc/quantity"
)

// Modbus is a device on a serial line that is asked for registers (MODBUS Application Protocol 1.1b3, functions 3 and
// 4; MODBUS over Serial Line 1.02, RTU mode). One request reads all registers from the first value's to the last
// value's.
type Modbus struct {
	Device   int    // 1 to 247
	Function string // "input" (function 4) or "holding" (function 3)
	Values   []ModbusValue
}

// ModbusValue is one value in the registers.
type ModbusValue struct {
	Channel  string
	Register int    // as in the frame, from 0: a register listed as 30001 is 0
	Type     string // "int16", "uint16", "int32", "uint32", "float32"
	Words    string // which word of 32 bits comes first: "high" or "low"
	Scale    string // a decimal; whole numbers are multiplied with it exactly
	Places   int    // float32 only: the decimal places the device stands for; the float is rounded to them
	Unit     string
	Overload []int64 // raw whole numbers that say "beyond the range"
}

type modbusValue struct {
	ModbusValue
	at    int // byte in the answer's data
	size  int // bytes
	scale decimal
	unit  quantity.Unit
}

type modbusCodec struct {
	device, function byte
	first, count     int // registers
	values           []modbusValue
	request          []byte
}

func (p Profile) compileModbus() (codec, error) {
	c, err := p.modbusCodec()
	if err != nil {
		return nil, err
	}
	if p.Poll.Interval < 10*time.Millisecond {
		return nil, fieldError("poll.interval", "%s: a Modbus device must be asked; want at least 10ms", p.Poll.Interval)
	}
	if string(p.Poll.Request) != string(c.request) {
		return nil, fieldError("poll.request", "a Modbus request is built from [modbus]; leave it out")
	}
	return c, nil
}

// ModbusRequest builds the request that asks for all of the profile's values; nil where the profile is no good one.
func (p Profile) ModbusRequest() []byte {
	c, err := p.modbusCodec()
	if err != nil {
		return nil
	}
	return c.request
}

func (p Profile) modbusCodec() (*modbusCodec, error) {
	if p.Modbus == nil {
		return nil, missingTable("modbus")
	}
	m := *p.Modbus
	c := &modbusCodec{}
	switch {
	case p.Line.DataBits != 8:
		return nil, fieldError("line.data_bits", "%d: Modbus RTU has 8", p.Line.DataBits)
	case m.Device < 1 || m.Device > 247:
		return nil, fieldError("modbus.device", "%d: want 1 to 247", m.Device)
	case len(m.Values) == 0:
		return nil, fieldError("modbus.value", "missing: which registers to read")
	}
	c.device = byte(m.Device)
	switch m.Function {
	case "holding":
		c.function = 3
	case "input":
		c.function = 4
	default:
		return nil, fieldError("modbus.function", "%q: want \"input\" or \"holding\"", m.Function)
	}
	last := 0
	c.first = math.MaxInt
	seen := map[string]bool{}
	for _, v := range m.Values {
		mv := modbusValue{ModbusValue: v}
		size, ok := map[string]int{"int16": 2, "uint16": 2, "int32": 4, "uint32": 4, "float32": 4}[v.Type]
		if !ok {
			return nil, fieldError("modbus.value.type", "%q: want int16, uint16, int32, uint32 or float32", v.Type)
		}
		mv.size = size
		if v.Words != "high" && v.Words != "low" {
			return nil, fieldError("modbus.value.words", "%q: want \"high\" or \"low\", the word that comes first", v.Words)
		}
		if v.Register < 0 || v.Register+size/2 > 65536 {
			return nil, fieldError("modbus.value.register", "%d: want 0 to 65535", v.Register)
		}
		if v.Places < 0 || v.Places > 9 {
			return nil, fieldError("modbus.value.places", "%d: want 0 to 9", v.Places)
		}
		if v.Type != "float32" && v.Places != 0 {
			return nil, fieldError("modbus.value.places", "whole numbers get their places from scale, as \"0.001\"")
		}
		if seen[v.Channel] {
			return nil, fieldError("modbus.value.channel", "%q stands twice", v.Channel)
		}
		seen[v.Channel] = true
		var err error
		if mv.scale, err = parseScale("modbus.value.scale", v.Scale); err != nil {
			return nil, err
		}
		if v.Unit == "" {
			return nil, fieldError("modbus.value.unit", "missing: a unit code, \"1\" for a plain number")
		}
		if mv.unit, err = quantity.UnitOf(v.Unit); err != nil {
			return nil, fieldError("modbus.value.unit", "%v", err)
		}
		c.first, last = min(c.first, v.Register), max(last, v.Register+size/2)
		c.values = append(c.values, mv)
	}
	c.count = last - c.first
	if c.count > 125 {
		return nil, fieldError("modbus.value.register", "%d registers from first to last; one request reads at most 125", c.count)
	}
	for i := range c.values {
		c.values[i].at = 2 * (c.values[i].Register - c.first)
	}
	c.request = appendCRC([]byte{c.device, c.function, byte(c.first >> 8), byte(c.first), byte(c.count >> 8), byte(c.count)})
	return c, nil
}

func appendCRC(b []byte) []byte {
	crc := crc16(b)
	return append(b, byte(crc), byte(crc>>8))
}

// encode writes the answer of a device; every channel must have its sample.
func (c *modbusCodec) encode(samples []Sample) ([]byte, error) {
	b := make([]byte, 3+2*c.count, 5+2*c.count)
	b[0], b[1], b[2] = c.device, c.function, byte(2*c.count)
	for _, v := range c.values {
		var s *Sample
		for i := range samples {
			if samples[i].Channel == v.Channel {
				s = &samples[i]
			}
		}
		if s == nil {
			return nil, fmt.Errorf("no value for channel %q", v.Channel)
		}
		bits, err := v.bits(*s)
		if err != nil {
			return nil, err
		}
		v.put(b[3:], bits)
	}
	return appendCRC(b), nil
}

// bits gives a sample's raw content of the registers.
func (v modbusValue) bits(s Sample) (uint32, error) {
	if s.Status&Overload != 0 && len(v.Overload) > 0 {
		return uint32(v.Overload[0]), nil
	}
	if s.Status != 0 {
		return 0, fmt.Errorf("status %q cannot be sent", s.Status)
	}
	r, err := inUnit(s.Value, v.unit)
	if err != nil {
		return 0, err
	}
	r.Quo(r, new(big.Rat).SetFrac(big.NewInt(v.scale.digits), pow10(v.scale.places)))
	if v.Type == "float32" {
		f, _ := r.Float32()
		return math.Float32bits(f), nil
	}
	if !r.IsInt() || !r.Num().IsInt64() {
		return 0, fmt.Errorf("%s is finer than the scale %s", s.Value, v.Scale)
	}
	n := r.Num().Int64()
	lo, hi := map[string][2]int64{"int16": {math.MinInt16, math.MaxInt16}, "uint16": {0, math.MaxUint16},
		"int32": {math.MinInt32, math.MaxInt32}, "uint32": {0, math.MaxUint32}}[v.Type], int64(0)
	if hi = lo[1]; n < lo[0] || n > hi {
		return 0, fmt.Errorf("%s does not fit into %s", s.Value, v.Type)
	}
	return uint32(n), nil
}

func (v modbusValue) put(data []byte, bits uint32) {
	hi, lo := uint16(bits>>16), uint16(bits)
	switch {
	case v.size == 2:
		data[v.at], data[v.at+1] = byte(lo>>8), byte(lo)
		return
	case v.Words == "low":
		hi, lo = lo, hi
	}
	data[v.at], data[v.at+1], data[v.at+2], data[v.at+3] = byte(hi>>8), byte(hi), byte(lo>>8), byte(lo)
}
