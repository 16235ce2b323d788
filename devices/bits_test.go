package devices_test

import (
	"encoding/hex"
	"strings"
	"testing"

	"thoud/devices"
)

// TestBitCodings reads frames written out by hand: bit 0 is the high or the low bit of the first byte, as order says.
func TestBitCodings(t *testing.T) {
	for _, c := range []struct{ name, bits, frame, want string }{
		{"bcd, high first", "length = 3\norder = \"high\"\ndecimals = 2\nnumber = { at = 4, count = 5, coding = \"bcd\", first = \"high\" }\nsign = { at = 0, bits = 4, values = { 0 = \"+\", 8 = \"-\" } }",
			"812345", "reads -123.45 mm"},
		{"bcd, low half byte of each byte first", "length = 3\norder = \"low\"\ndecimals = 2\nnumber = { at = 0, count = 5, coding = \"bcd\", first = \"low\" }\nsign = { at = 20, bits = 4, values = { 0 = \"+\", 8 = \"-\" } }",
			"453281", "reads -132.45 mm"},
		{"bcd, low digit first, sign in the last half byte", "length = 3\norder = \"low\"\ndecimals = 2\nnumber = { at = 0, count = 5, coding = \"bcd\", first = \"low\" }\nsign = { at = 20, bits = 4, values = { 0 = \"+\", 8 = \"-\" } }",
			"452381", "reads -123.45 mm"},
		{"binary over byte borders", "length = 2\norder = \"high\"\ndecimals = 1\nnumber = { at = 2, count = 13, coding = \"binary\", first = \"high\" }",
			"1388", "reads 250.0 mm"}, // 00 0100111000100 0 = 0x9C4 = 2500
		{"low byte first", "length = 2\norder = \"high\"\nnumber = { at = 0, count = 16, coding = \"binary\", first = \"low\" }", "d204", "reads 1234 mm"},
		{"two's complement", "length = 2\norder = \"high\"\nnumber = { at = 0, count = 12, coding = \"twos\", first = \"high\" }", "fff0", "reads -1 mm"},
		{"figures in ASCII", "length = 3\norder = \"high\"\nnumber = { at = 0, count = 3, coding = \"ascii\", first = \"high\" }", "313233", "reads 123 mm"},
		{"no figure", "length = 3\norder = \"high\"\nnumber = { at = 0, count = 3, coding = \"ascii\", first = \"high\" }", "313a33", "digit 2 is 0x3A"},
		{"no decimal digit", "length = 1\norder = \"high\"\nnumber = { at = 0, count = 2, coding = \"bcd\", first = \"high\" }", "1a", "digit 2 is 0xA"},
		{"sum of bytes", "length = 3\norder = \"high\"\nnumber = { at = 0, count = 4, coding = \"bcd\", first = \"high\" }\ncheck = { kind = \"sum8\", at = 16, from = 0, to = 2 }", "993fd8", "digit 4 is 0xF"},
		{"sum of half bytes", "length = 2\norder = \"high\"\nnumber = { at = 0, count = 2, coding = \"bcd\", first = \"high\" }\ncheck = { kind = \"sum4\", at = 12, from = 0, to = 1 }\nfixed = [{ at = 8, bits = 4, value = 0 }]", "9807", "check sum 7, its bytes give 1"},
		{"sum of half bytes that fits", "length = 2\norder = \"high\"\nnumber = { at = 0, count = 2, coding = \"bcd\", first = \"high\" }\ncheck = { kind = \"sum4\", at = 12, from = 0, to = 1 }\nfixed = [{ at = 8, bits = 4, value = 0 }]", "9801", "reads 98 mm"},
		{"exclusive or", "length = 3\norder = \"high\"\nnumber = { at = 0, count = 16, coding = \"binary\", first = \"high\" }\ncheck = { kind = \"xor8\", at = 16, from = 0, to = 2 }", "04d2d6", "reads 1234 mm"},
	} {
		p, err := devices.ParseProfile("b.toml", []byte("name = \"b\"\ntitle = \"b\"\nfamily = \"bits\"\n[bits]\ngap = true\nunit = \"mm\"\n"+c.bits+"\n"))
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		frame, err := hex.DecodeString(c.frame)
		if err != nil {
			t.Fatal(err)
		}
		var got string
		emit := func(s devices.Sample, err error) {
			if got = said(s); err != nil {
				got = err.Error()
			}
		}
		d := mustDecoder(t, p)
		d.Feed(frame, emit)
		if got != "" {
			t.Errorf("%s: read before the silence: %s", c.name, got)
		}
		d.Idle(emit)
		if !strings.Contains(got, c.want) || strings.HasPrefix(c.want, "reads") && got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

func TestFaultsOfABitsProfile(t *testing.T) {
	const head = "name = \"b\"\ntitle = \"b\"\nfamily = \"bits\"\n[bits]\ngap = true\nlength = 2\norder = \"high\"\n"
	const number = "number = { at = 0, count = 2, coding = \"bcd\", first = \"high\" }\n"
	for _, c := range []struct{ text, want string }{
		{head + number, "bits.unit: missing"},
		{strings.Replace(head, "high", "up", 1) + number + "unit = \"mm\"\n", `bits.order: "up"`},
		{head + strings.Replace(number, "bcd", "roman", 1) + "unit = \"mm\"\n", `bits.number.coding: "roman"`},
		{head + strings.Replace(number, "count = 2", "count = 5", 1) + "unit = \"mm\"\n", "bits.number: bits 0 to 19"},
		{head + number + "unit = \"mm\"\nsign = { at = 8, bits = 1, values = { 0 = \"+\", 1 = \"minus\" } }\n", `bits.sign.values: "minus"`},
		{head + number + "unit = \"mm\"\nsign = { at = 8, bits = 1, values = { 0 = \"+\", 2 = \"-\" } }\n", "2 does not fit into 1 bits"},
		{head + number + "unit = \"mm\"\nsign = { at = 8, bits = 1, values = { x = \"+\" } }\n", `"x" is not a value of bits`},
		{head + number + "unit = \"mm\"\ncheck = { kind = \"sum8\", at = 8, from = 0, to = 2 }\n", "the check sum lies within"},
		{head + number + "unit = \"mm\"\ncheck = { kind = \"md5\", at = 8, from = 0, to = 1 }\n", `bits.check.kind: "md5"`},
		{head + number + "unit = \"mm\"\n[poll]\nrequest = \"?\"\ninterval = \"100ms\"\n", "poll.interval: 100ms: answers that are told apart by silence"},
	} {
		if _, err := devices.ParseProfile("b.toml", []byte(c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.text, err, c.want)
		}
	}
}
