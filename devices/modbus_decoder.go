package devices

import (
	"bytes"
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// modbusDecoder takes answers to the profile's one request. Bytes that are no answer are dropped one by one until an
// answer with the right CRC begins; an echo of the request, as some two-wire adapters give it, is passed over.
type modbusDecoder struct {
	*modbusCodec
	raw  []byte
	slid int // bytes dropped since the last good answer
	out  []Sample
}

var _ Decoder = (*modbusDecoder)(nil)

func (c *modbusCodec) decoder() Decoder { return &modbusDecoder{modbusCodec: c} }

func (d *modbusDecoder) Reset() { d.raw, d.slid = d.raw[:0], 0 }

func (d *modbusDecoder) Idle(emit func(Sample, error)) {
	if len(d.raw) > 0 && d.slid == 0 {
		emit(Sample{}, frameError(d.raw, "the line fell silent in the middle of an answer"))
	}
	d.Reset()
}

// exceptionLength is the length of an answer that refuses a request: device, function, code, CRC.
const exceptionLength = 5

func (d *modbusDecoder) Feed(p []byte, emit func(Sample, error)) {
	length := 5 + 2*d.count
	for _, b := range p {
		d.raw = append(d.raw, b)
		for len(d.raw) >= exceptionLength {
			if d.raw[0] == d.device && d.raw[1] == d.function|0x80 && goodCRC(d.raw[:exceptionLength]) {
				emit(Sample{}, frameError(d.raw[:exceptionLength], "%s", exception(d.raw[2])))
				d.drop(exceptionLength)
				d.slid = 0
				continue
			}
			answer := d.raw[0] == d.device && d.raw[1] == d.function && int(d.raw[2]) == 2*d.count
			echo := len(d.raw) < len(d.request) && bytes.HasPrefix(d.request, d.raw)
			switch {
			case answer && len(d.raw) < length || echo:
			case answer && goodCRC(d.raw[:length]):
				d.answer(d.raw[:length], emit)
				d.drop(length)
				d.slid = 0
				continue
			case bytes.HasPrefix(d.raw, d.request):
				d.drop(len(d.request))
				d.slid = 0
				continue
			default:
				if d.slid%length == 0 {
					why := "not an answer of the device; are device number and line settings right?"
					if answer {
						why = fmt.Sprintf("wrong CRC, its bytes give %04X", crc16(d.raw[:length-2]))
					}
					emit(Sample{}, frameError(d.raw, "%s", why))
				}
				d.drop(1)
				d.slid++
				continue
			}
			break
		}
	}
}

func (d *modbusDecoder) drop(n int) { d.raw = append(d.raw[:0], d.raw[n:]...) }

func goodCRC(b []byte) bool {
	n := len(b) - 2
	return crc16(b[:n]) == uint16(b[n])|uint16(b[n+1])<<8
}

// answer gives out all values of an answer, or none.
func (d *modbusDecoder) answer(frame []byte, emit func(Sample, error)) {
	d.out = d.out[:0]
	for i := range d.values {
		v := &d.values[i]
		s := Sample{Channel: v.Channel, Frame: frame, Text: frame[3+v.at : 3+v.at+v.size]}
		value, over, why := v.read(frame[3:])
		if why != "" {
			emit(Sample{}, frameError(frame, "channel %q: %s; is the profile right?", v.Channel, why))
			return
		}
		s.Value, s.Unnamed = value, true
		if over {
			s.Status = Overload
		}
		d.out = append(d.out, s)
	}
	for _, s := range d.out {
		emit(s, nil)
	}
}

func (v *modbusValue) read(data []byte) (value quantity.Value, over bool, why string) {
	hi := uint16(data[v.at])<<8 | uint16(data[v.at+1])
	var bits uint32
	if v.size == 2 {
		bits = uint32(hi)
	} else {
		lo := uint16(data[v.at+2])<<8 | uint16(data[v.at+3])
		if v.Words == "low" {
			hi, lo = lo, hi
		}
		bits = uint32(hi)<<16 | uint32(lo)
	}
	var n decimal
	switch v.Type {
	case "int16":
		n.digits = int64(int16(bits))
	case "int32":
		n.digits = int64(int32(bits))
	case "float32":
		f := math.Round(float64(math.Float32frombits(bits)) * math.Pow10(v.Places))
		if !(math.Abs(f) < 1<<53) {
			return value, false, "no finite number in range"
		}
		n = decimal{int64(f), v.Places}
	default:
		n.digits = int64(bits)
	}
	for _, o := range v.Overload {
		if v.Type != "float32" && n.digits == o {
			return value, true, ""
		}
	}
	n, ok := n.times(v.scale)
	if !ok {
		return value, false, "out of range"
	}
	value, err := quantity.Make(n.digits, n.places, v.unit)
	if err != nil {
		return value, false, err.Error()
	}
	return value, false, ""
}

// exception says in words what an exception code of the Application Protocol (section 7) means.
func exception(code byte) string {
	switch code {
	case 1:
		return "the device does not know the function (exception 1); input or holding?"
	case 2:
		return "the device has no such register (exception 2)"
	case 3:
		return "the device refuses the number of registers (exception 3)"
	case 4:
		return "the device failed (exception 4)"
	case 6:
		return "the device is busy (exception 6)"
	}
	return fmt.Sprintf("the device refuses the request (exception %d)", code)
}
