package devices_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/devices"
)

// mustBridge is a bridge with two invented gauges; their frames are drawn in its file.
func mustBridge(tb testing.TB) devices.Profile {
	tb.Helper()
	text, err := os.ReadFile("../testdata/devices/bridge/two-gauges.toml")
	if err != nil {
		tb.Fatal(err)
	}
	p, err := devices.ParseProfile("two-gauges.toml", text)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// heardOn gives what a decoder makes of bench lines that lack their check sums.
func heardOn(d devices.Decoder, lines ...string) []string {
	var got []string
	for _, l := range lines {
		d.Feed(fmt.Appendf(nil, "%s *%02X\n", l, checkSum(l)), func(s devices.Sample, err error) {
			if err != nil {
				got = append(got, err.Error())
				return
			}
			words := strings.TrimSpace(s.Channel + " " + s.Key)
			if s.Value.Valid() {
				words += " " + s.Value.String()
			}
			if s.Status != 0 {
				words += " " + s.Status.String()
			}
			if s.Unconfirmed {
				words += "?"
			}
			if s.Gone {
				words += " gone"
			}
			got = append(got, strings.TrimSpace(words))
		})
	}
	return got
}

// checkSum is CRC-8/SMBUS by long division, bit by bit: polynomial x^8 + x^2 + x + 1, beginning at 0 (check value F4 for
// "123456789", as the catalogue of parametrised CRC algorithms has it).
func checkSum(text string) byte {
	sum := byte(0)
	for i := range len(text) {
		sum ^= text[i]
		for range 8 {
			carry := sum&0x80 != 0
			if sum <<= 1; carry {
				sum ^= 0x07
			}
		}
	}
	return sum
}

// The frames were put together by hand from the drawing in the profile's file, a figure for each four bits:
//
//	left   1010 0 0000 0000 0011 0000 0011 1001 01.   12345 = 0x3039
//	left   1010 1 1111 1111 1111 1110 1101 0101 01.   -299 = 0xFFFED5, with the bit of the inch
//	right  1001 01 11 1000 … 0000 0 011 0             7, every number with its low bit first
func TestRawBitsOfABridge(t *testing.T) {
	const (
		left12345 = ":left bits 31 A00181CA"
		left12346 = ":left bits 31 A00181D2"
		leftInch  = ":left bits 31 AFFFF6AA"
		right7    = ":right bits 45 978000000030"
		rightFlat = ":right bits 45 9780000000B0" // its battery bit is set
	)
	for _, c := range []struct {
		name  string
		lines []string
		want  []string
	}{
		{"a value counts when two frames agree", []string{left12345, left12345, left12345}, []string{"left 12.345 mm?", "left 12.345 mm", "left 12.345 mm"}},
		{"another value begins anew", []string{left12345, left12346, left12345, left12345}, []string{"left 12.345 mm?", "left 12.346 mm?", "left 12.345 mm?", "left 12.345 mm"}},
		{"each channel by itself", []string{left12345, right7, left12345, right7}, []string{"left 12.345 mm?", "right 0.007 mm?", "left 12.345 mm", "right 0.007 mm"}},
		{"a state beside the value", []string{rightFlat, rightFlat}, []string{"right 0.007 mm low-battery?", "right 0.007 mm low-battery"}},
		{"the other unit", []string{leftInch, leftInch}, []string{"left -0.0299 in?", "left -0.0299 in"}},
		{"a spoilt frame lets nothing count", []string{left12345, left12345 + " fault", left12345, left12345},
			[]string{"left 12.345 mm?", "clock or data falter", "left 12.345 mm?", "left 12.345 mm"}},
		{"a bit too few", []string{left12345, ":left bits 30 A00181C8", left12345}, []string{"left 12.345 mm?", `30 bits, a frame of "left" has 31: noise`, "left 12.345 mm?"}},
		{"a fixed bit", []string{":left bits 31 200181CA"}, []string{"bits 0 to 3 are 2, fixed at 10: noise"}},
		{"no such count", []string{":left bits 0 A0", ":left bits 257 A0", ":left bits x A0"}, []string{`"0" is no count of bits`, `"257" is no count of bits`, `"x" is no count of bits`}},
		{"figures", []string{":left bits 31 A00181C", ":left bits 31 A00181CG", ":left bits 31 A00181CB", ":left bits 31"},
			[]string{"7 figures for 31 bits, want 8", "no hexadecimal figures", "the last figure has more bits than the 31", "0 figures for 31 bits"}},
		{"another word", []string{left12345 + " fine"}, []string{`"fine" is not a state of raw bits`}},
		{"a channel that nobody described", []string{":third bits 31 A00181CA"}, []string{`31 raw bits, and the profile does not say what they mean on the channel "third": teach it`}},
		{"gone", []string{left12345, ":left gone", left12345, left12345}, []string{"left 12.345 mm?", "left gone", "left 12.345 mm?", "left 12.345 mm"}},
		{"started", []string{left12345, ":bridge start 1", left12345, ":bridge here 1", left12345}, []string{"left 12.345 mm?", "gone", "left 12.345 mm?", "left 12.345 mm"}},
		{"a newer bridge", []string{":bridge start 2", left12345}, []string{"the bridge speaks version 2 of the bench line, this program knows version 1", "the bridge speaks version 2"}},
		{"no version", []string{":bridge start", ":bridge here x"}, []string{`"" is no version`, `"x" is no version`}},
		{"keys", []string{":key pedal", ":key left"}, []string{"pedal", "left"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := heardOn(mustDecoder(t, mustBridge(t)), c.lines...)
			if len(got) != len(c.want) {
				t.Fatalf("got %q, want %q", got, c.want)
			}
			for i, want := range c.want {
				if got[i] != want && !(strings.HasPrefix(got[i], "frame ") && strings.Contains(got[i], want)) {
					t.Errorf("line %d: got %q, want %q", i+1, got[i], want)
				}
			}
		})
	}
}

// A line that was cut in the middle, and one without its check sum.
func TestACutLineOfABridgeIsRefused(t *testing.T) {
	d := mustDecoder(t, mustBridge(t))
	var got []string
	emit := func(s devices.Sample, err error) {
		if err == nil {
			t.Fatalf("read %+v", s)
		}
		got = append(got, err.Error())
	}
	d.Feed([]byte(":left bits 31 A001:left bits 31 A00181CA\n:left bits 31 A00181CA\n:left bits 31 A00"), emit)
	d.Idle(emit)
	for i, want := range []string{"has no other", "no check sum", "fell silent in the middle of a frame"} {
		if i >= len(got) || !strings.Contains(got[i], want) {
			t.Fatalf("got %q, want %s", got, want)
		}
	}
}

// Only noise is counted rather than told: a fault of the profile or the bridge is neither.
func TestNoiseIsToldFromFaults(t *testing.T) {
	d := mustDecoder(t, mustBridge(t))
	for line, want := range map[string]bool{
		":left bits 31 A00181CA fault": true, ":left bits 30 A00181C8": true, ":left bits 31 200181CA": true,
		":left bits 0 A": false, ":third bits 31 A00181CA": false, ":bridge start 9": false, ":left 1.0 furlong": false,
	} {
		d.Reset()
		d.Feed(fmt.Appendf(nil, "%s *%02X\n", line, checkSum(line)), func(s devices.Sample, err error) {
			fe, ok := err.(*devices.FrameError)
			if !ok || fe.Noise != want || want && fe.Channel != "left" {
				t.Errorf("%s: %v, noise %v, want %v", line, err, ok && fe.Noise, want)
			}
		})
	}
}

// What the profile sends it reads, in both orders of the bits, and its file brings it back.
func TestRawBitsEncodeAndDecode(t *testing.T) {
	p := mustBridge(t)
	again, err := devices.ParseProfile("again.toml", p.TOML())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(p, again); diff != "" {
		t.Errorf("written and read again: %s", diff)
	}
	rapid.Check(t, func(rt *rapid.T) {
		want := devices.Sample{Channel: rapid.SampledFrom([]string{"left", "right"}).Draw(rt, "channel")}
		unit, places := quantity.Base(quantity.Length), 3
		if want.Channel == "left" && rapid.Bool().Draw(rt, "inch") {
			unit, _ = quantity.UnitOf("in")
			places = 4
		}
		if want.Channel == "right" && rapid.Bool().Draw(rt, "flat") {
			want.Status = devices.LowBattery
		}
		want.Value, err = quantity.Make(rapid.Int64Range(-8_000_000, 8_000_000).Draw(rt, "counts"), places, unit)
		if err != nil {
			rt.Fatal(err)
		}
		line, err := p.Encode(want)
		if err != nil {
			rt.Fatal(err)
		}
		d := mustDecoder(t, again)
		n := 0
		for range 2 {
			d.Feed(line, func(s devices.Sample, err error) {
				if n++; err != nil || said(s) != said(want) || s.Unconfirmed != (n == 1) {
					rt.Fatalf("%s: %v, %s, unconfirmed %v; want %s", line, err, said(s), s.Unconfirmed, said(want))
				}
			})
		}
	})
	for _, c := range []struct {
		s    devices.Sample
		want string
	}{{devices.Sample{Gone: true}, ":bridge start 1 "}, {devices.Sample{Gone: true, Channel: "left"}, ":left gone "}, {devices.Sample{Key: "pedal"}, ":key pedal "}} {
		if line, err := p.Encode(c.s); err != nil || !strings.HasPrefix(string(line), c.want) {
			t.Errorf("%+v is sent as %q, %v", c.s, line, err)
		}
	}
}

// Faults of a profile of raw bits, each with the sentence that names it and where it stands.
func TestFaultsOfRawBits(t *testing.T) {
	text := string(mustBridge(t).TOML())
	for _, c := range []struct{ old, new, want string }{
		{"count = 31", "count = 0", `bench.bits.left.count: 0: want 1 to 256 bits`},
		{"count = 31", "count = 257", `bench.bits.left.count: 257: want 1 to 256 bits`},
		{"count = 31", "count = 30", `bench.bits.left.fixed: bit 30 belongs to fixed already`},
		{"count = 31", "count = 31\nlength = 4", "length, gap and channel are the bridge's own"},
		{"checked = true", "checked = true\nchannels = [\"right\"]", `bench.bits.left: "left" does not stand in bench.channels`},
		{"checked = true", "checked = true\nchannels = [\"left\", \"right\", \"left\"]", `bench.channels: "left" stands twice`},
		{"[bench.bits.left]", "[bench.bits.key]", `bench.bits.key: "key" is not a channel`},
		{"[bench.bits.right]", "[bench.bits.left]", "left"}, // the same table twice: the reader of TOML says so
		{"coding = \"twos\", first = \"low\"", "coding = \"gray\", first = \"low\"", `bench.bits.right.number.coding: "gray"`},
	} {
		changed := strings.Replace(text, c.old, c.new, 1)
		if changed == text {
			t.Errorf("%s does not stand in the profile", c.old)
		}
		if _, err := devices.ParseProfile("x.toml", []byte(changed)); err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "x.toml:") {
			t.Errorf("%s: got %v, want %s", c.new, err, c.want)
		}
	}
}

// Whatever profile there is, raw bits are found, so that they can be taught.
func TestRawChannelsAreFound(t *testing.T) {
	var b []byte
	for _, l := range []string{":left bits 31 A00181CA", ":left bits 30 A00181C8", ":right bits 45 978000000030", ":left bits 31 A00181CA", ":key pedal", ":left gone"} {
		b = fmt.Appendf(b, "%s *%02X\n", l, checkSum(l))
	}
	b = append(b, ":left bits 12 ABC *00\n"...)
	want := []devices.RawChannel{{Channel: "left", Count: 31, Frames: 3}, {Channel: "right", Count: 45, Frames: 1}}
	if diff := cmp.Diff(want, devices.RawChannels(b)); diff != "" {
		t.Error(diff)
	}
}

// The examples in the grammar's comment, and those in the page on bridges, are lines that are read.
func TestTheExamplesOfTheGrammarAreRead(t *testing.T) {
	for file, least := range map[string]int{"bench.go": 7, "../cmd/thoud/guide/bridge.md": 3} {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		tried := 0
		for _, l := range strings.Split(string(text), "\n") {
			l = strings.TrimSpace(strings.TrimPrefix(l, "//"))
			if !strings.HasPrefix(l, ":") {
				continue
			}
			tried++
			d := mustDecoder(t, mustProfiles(t)["bench-line"])
			d.Feed([]byte(l+"\n"), func(s devices.Sample, err error) {
				if err != nil && !strings.Contains(err.Error(), "does not say what they mean") {
					t.Errorf("%s: %s: %v", file, l, err)
				}
			})
		}
		if tried < least {
			t.Errorf("%s has %d examples", file, tried)
		}
	}
}
