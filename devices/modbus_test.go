package devices_test

import (
	"encoding/hex"
	"strings"
	"testing"

	"thoud/devices"
)

// withCRC appends the CRC-16/MODBUS, worked out here as the remainder of a long division bit by bit and not as the
// decoder does it.
func withCRC(b []byte) []byte {
	reg := uint32(0xFFFF)
	for _, c := range b {
		for i := range 8 {
			top := reg >> 15 & 1
			reg = reg << 1 & 0xFFFF
			if top != uint32(c)>>i&1 {
				reg ^= 0x8005
			}
		}
	}
	crc := uint32(0)
	for i := range 16 {
		crc |= reg >> i & 1 << (15 - i)
	}
	return append(append([]byte(nil), b...), byte(crc), byte(crc>>8))
}

const modbusHead = "name = \"m\"\ntitle = \"m\"\nfamily = \"modbus\"\n[poll]\ninterval = \"100ms\"\n[modbus]\n"

// The registers' contents in the protocol's own order: each register high byte first (MODBUS Application Protocol
// 1.1b3, 4.2); the words of 32 bits as the profile says. Numbers in two's complement and IEEE 754 worked out by hand:
// 1.5 is 0x3FC00000, 12.345 is nearest 0x4145851F.
func TestModbusTypes(t *testing.T) {
	for _, c := range []struct{ value, data, want string }{
		{`register = 8, type = "int16", unit = "1"`, "000a", "reads 10"}, // the protocol's example of function 4: register 9 holds 10
		{`register = 0, type = "int16", scale = "0.1", unit = "N"`, "fffe", "reads -0.2 N"},
		{`register = 0, type = "uint16", unit = "deg"`, "fffe", "reads 65534 deg"},
		{`register = 0, type = "int32", words = "high", scale = "0.001", unit = "mm"`, "fffffffe", "reads -0.002 mm"},
		{`register = 0, type = "int32", words = "low", scale = "0.001", unit = "mm"`, "e2400001", "reads 123.456 mm"},
		{`register = 0, type = "uint32", words = "high", scale = "0.0001", unit = "in"`, "0001e240", "reads 12.3456 in"},
		{`register = 0, type = "float32", words = "high", places = 3, unit = "mm"`, "3fc00000", "reads 1.500 mm"},
		{`register = 0, type = "float32", words = "low", places = 3, unit = "mm"`, "851f4145", "reads 12.345 mm"},
		{`register = 0, type = "float32", words = "high", places = 3, unit = "mm"`, "7f800000", "no finite number"},
		{`register = 0, type = "int16", scale = "0.00000001", unit = "mm"`, "0001", "finer than 0.1 nm"},
		{`register = 0, type = "int16", unit = "mm", overload = [-32768, 32767]`, "8000", "reads none status=overload"},
	} {
		p, err := devices.ParseProfile("m.toml", []byte(modbusHead+"device = 17\nfunction = \"input\"\nvalue = [{ "+c.value+" }]\n"))
		if err != nil {
			t.Errorf("%s: %v", c.value, err)
			continue
		}
		data, err := hex.DecodeString(c.data)
		if err != nil {
			t.Fatal(err)
		}
		var got string
		emit := func(s devices.Sample, err error) {
			if got = said(s); err != nil {
				got = err.Error()
			}
		}
		mustDecoder(t, p).Feed(withCRC(append([]byte{17, 4, byte(len(data))}, data...)), emit)
		if !strings.Contains(got, c.want) || strings.HasPrefix(c.want, "reads") && got != c.want {
			t.Errorf("%s %s: got %s, want %s", c.value, c.data, got, c.want)
		}
	}
}

// One request spans the registers of all values.
func TestModbusRequest(t *testing.T) {
	p, err := devices.ParseProfile("m.toml", []byte(modbusHead+`device = 17
function = "holding"
value = [
  { channel = "b", register = 112, type = "int32", unit = "mm" },
  { channel = "a", register = 107, type = "int16", unit = "mm" },
]
`))
	if err != nil {
		t.Fatal(err)
	}
	// Device 0x11, function 3, from 0x006B, seven registers.
	if got, want := p.Poll.Request, withCRC([]byte{0x11, 3, 0, 0x6B, 0, 7}); string(got) != string(want) {
		t.Errorf("request % x, want % x", got, want)
	}
}

func TestFaultsOfAModbusProfile(t *testing.T) {
	const value = "value = [{ register = 0, type = \"int16\", unit = \"mm\" }]\n"
	for _, c := range []struct{ text, want string }{
		{"device = 0\nfunction = \"input\"\n" + value, "modbus.device: 0"},
		{"device = 1\nfunction = \"coil\"\n" + value, `modbus.function: "coil"`},
		{"device = 1\nfunction = \"input\"\n", "modbus.value: missing"},
		{"device = 1\nfunction = \"input\"\nvalue = [{ register = 0, type = \"int8\", unit = \"mm\" }]\n", `modbus.value.type: "int8"`},
		{"device = 1\nfunction = \"input\"\nvalue = [{ register = 65535, type = \"int32\", unit = \"mm\" }]\n", "modbus.value.register: 65535"},
		{"device = 1\nfunction = \"input\"\nvalue = [{ register = 0, type = \"int16\", unit = \"mm\" }, { register = 1, type = \"int16\", unit = \"mm\" }]\n", "modbus.value.channel"},
		{"device = 1\nfunction = \"input\"\nvalue = [{ channel = \"a\", register = 0, type = \"int16\", unit = \"mm\" }, { channel = \"b\", register = 400, type = \"int16\", unit = \"mm\" }]\n", "at most 125"},
		{"device = 1\nfunction = \"input\"\nvalue = [{ register = 0, type = \"int16\", places = 2, unit = \"mm\" }]\n", "modbus.value.places"},
		{"device = 1\nfunction = \"input\"\nvalue = [{ register = 0, type = \"int16\", unit = \"\" }]\n", "modbus.value.unit"},
	} {
		if _, err := devices.ParseProfile("m.toml", []byte(modbusHead+c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.text, err, c.want)
		}
	}
	if _, err := devices.ParseProfile("m.toml", []byte(strings.Replace(modbusHead, "[poll]", "[poll]\nrequest = \"?\"", 1)+"device = 1\nfunction = \"input\"\n"+value)); err == nil || !strings.Contains(err.Error(), "poll.request: a Modbus request is built") {
		t.Errorf("a request of its own: %v", err)
	}
}
