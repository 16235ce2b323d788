package devices

import (
	"strconv"
)

type bitsFile struct {
	Length   int          `toml:"length"`
	Order    string       `toml:"order"`
	Gap      bool         `toml:"gap"`
	Number   digitsFile   `toml:"number"`
	Sign     *fieldFile   `toml:"sign"`
	Places   *fieldFile   `toml:"places"`
	UnitAt   *fieldFile   `toml:"unit_field"`
	Status   []*fieldFile `toml:"status"`
	Channel  *fieldFile   `toml:"channel"`
	Decimals int          `toml:"decimals"`
	Unit     string       `toml:"unit"`
	Scale    *string      `toml:"scale"`
	Fixed    []fixedFile  `toml:"fixed"`
	Check    *checkFile   `toml:"check"`
}

type digitsFile struct {
	At     int    `toml:"at"`
	Count  int    `toml:"count"`
	Coding string `toml:"coding"`
	First  string `toml:"first"`
}

type fieldFile struct {
	At     int               `toml:"at"`
	Bits   int               `toml:"bits"`
	Values map[string]string `toml:"values"` // the value, decimal or 0x…, → what it means
}

type fixedFile struct {
	At    int    `toml:"at"`
	Bits  int    `toml:"bits"`
	Value uint64 `toml:"value"`
}

type checkFile struct {
	Kind string `toml:"kind"`
	At   int    `toml:"at"`
	From int    `toml:"from"`
	To   int    `toml:"to"`
}

type modbusFile struct {
	Device   int               `toml:"device"`
	Function string            `toml:"function"`
	Value    []modbusValueFile `toml:"value"`
}

type modbusValueFile struct {
	Channel  string  `toml:"channel"`
	Register int     `toml:"register"`
	Type     string  `toml:"type"`
	Words    string  `toml:"words"`
	Scale    *string `toml:"scale"`
	Places   int     `toml:"places"`
	Unit     string  `toml:"unit"`
	Overload []int64 `toml:"overload"`
}

type benchFile struct {
	Checked  bool                    `toml:"checked"`
	Channels []string                `toml:"channels"`
	Bits     map[string]bitFrameFile `toml:"bits"`
}

type bitFrameFile struct {
	Count int `toml:"count"`
	bitsFile
}

func (f fieldFile) field(path string) (Field, error) {
	out := Field{At: f.At, Bits: f.Bits, Values: map[uint64]string{}}
	for text, meaning := range f.Values {
		v, err := strconv.ParseUint(text, 0, 64)
		if err != nil {
			return out, fieldError(path+".values."+text, "%q is not a value of bits: want 5 or 0x05", text)
		}
		if _, ok := out.Values[v]; ok {
			return out, fieldError(path+".values."+text, "%q: the value %d stands twice", text, v)
		}
		out.Values[v] = meaning
	}
	return out, nil
}

// bits reads the table that stands at path.
func (f bitsFile) bits(path string) (*Bits, error) {
	b := &Bits{Length: f.Length, Order: f.Order, Gap: f.Gap, Number: Digits(f.Number), Decimals: f.Decimals,
		DefaultUnit: f.Unit, Scale: "1"}
	if f.Scale != nil {
		b.Scale = *f.Scale
	}
	for _, x := range []struct {
		path string
		from *fieldFile
		to   **Field
	}{{path + ".sign", f.Sign, &b.Sign}, {path + ".places", f.Places, &b.Places}, {path + ".unit_field", f.UnitAt, &b.Unit},
		{path + ".channel", f.Channel, &b.Chan}} {
		if x.from == nil {
			continue
		}
		field, err := x.from.field(x.path)
		if err != nil {
			return nil, err
		}
		*x.to = &field
	}
	for _, s := range f.Status {
		field, err := s.field(path + ".status")
		if err != nil {
			return nil, err
		}
		b.Status = append(b.Status, field)
	}
	for _, x := range f.Fixed {
		b.Fixed = append(b.Fixed, Fixed(x))
	}
	if f.Check != nil {
		k := Check(*f.Check)
		b.Check = &k
	}
	return b, nil
}

func (f modbusFile) modbus() *Modbus {
	m := &Modbus{Device: f.Device, Function: f.Function}
	for _, v := range f.Value {
		mv := ModbusValue{Channel: v.Channel, Register: v.Register, Type: v.Type, Words: "high", Scale: "1",
			Places: v.Places, Unit: v.Unit, Overload: v.Overload}
		set(&mv.Words, v.Words)
		if v.Scale != nil {
			mv.Scale = *v.Scale
		}
		m.Values = append(m.Values, mv)
	}
	return m
}

func readText(f file, p *Profile) (err error) {
	if f.Text != nil {
		p.Text, err = f.Text.text()
	}
	return err
}

func readBits(f file, p *Profile) (err error) {
	if f.Bits != nil {
		p.Bits, err = f.Bits.bits("bits")
	}
	return err
}

func readModbus(f file, p *Profile) error {
	if f.Modbus == nil {
		return nil
	}
	p.Modbus = f.Modbus.modbus()
	if len(p.Poll.Request) > 0 {
		return fieldError("poll.request", "a Modbus request is built from [modbus]; leave it out")
	}
	p.Poll.Request = p.ModbusRequest()
	return nil
}

func readBench(f file, p *Profile) error {
	if f.Bench == nil {
		return nil
	}
	p.Bench = &Bench{Checked: f.Bench.Checked, Channels: f.Bench.Channels}
	for name, frame := range f.Bench.Bits {
		b, err := frame.bits("bench.bits." + name)
		if err != nil {
			return err
		}
		if p.Bench.Bits == nil {
			p.Bench.Bits = map[string]BitFrame{}
		}
		p.Bench.Bits[name] = BitFrame{frame.Count, *b}
	}
	return nil
}

// families turns the file's family tables into the profile's.
func (f file) families(p *Profile) error {
	for _, row := range families() {
		if err := row.read(f, p); err != nil {
			return err
		}
	}
	return nil
}
