package devices_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/devices"
)

// goodSamples gives what one frame of a profile says, with this many counts on each channel.
func goodSamples(p devices.Profile, counts int64) []devices.Sample {
	s := devices.Sample{}
	unit, places := quantity.Base(quantity.Length), 3
	if p.Resolution.Valid() {
		unit, places = p.Resolution.Unit, p.Resolution.Places
	}
	if p.Name == "text-weight-lf" {
		s.Status = devices.Stable
	}
	if p.Name == "text-signed-counts-length" || p.Name == "text-polled-decimal-crlf" || p.Name == "bits-bcd-seven-bytes" {
		s.Status = devices.Stable
		if p.Name == "text-signed-counts-length" {
			s.Status = 0
			counts *= 5
		}
	}
	v, err := quantity.Make(counts, places, unit)
	if err != nil {
		panic(fmt.Sprintf("%s: %v", p.Name, err))
	}
	s.Value = v
	switch p.Name {
	case "text-two-channels-crlf", "modbus-displacement-float":
		a, b := s, s
		a.Channel, b.Channel = "a", "b"
		b.Value.N = -b.Value.N
		return []devices.Sample{a, b}
	}
	if p.Family == "bench" {
		s.Channel = "left"
	}
	return []devices.Sample{s}
}

func goodFrame(tb testing.TB, p devices.Profile) []byte {
	tb.Helper()
	b, err := p.Encode(goodSamples(p, 1234)...)
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// What a profile encodes it decodes to the same, for every profile and any count that its frames can carry.
func TestEncodeAndDecode(t *testing.T) {
	for _, p := range mustProfiles(t) {
		t.Run(p.Name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				limit := int64(99_999)
				if p.Name == "modbus-force-int16" {
					limit = 32_766
				}
				want := goodSamples(p, rapid.Int64Range(-limit, limit).Draw(rt, "counts"))
				sameAgain(rt, p, want)
			})
		})
	}
}

// sameAgain encodes samples and decodes them.
func sameAgain(rt *rapid.T, p devices.Profile, want []devices.Sample) {
	frame, err := p.Encode(want...)
	if err != nil {
		rt.Fatal(err)
	}
	d, err := p.NewDecoder()
	if err != nil {
		rt.Fatal(err)
	}
	d.Idle(nil)
	var got []devices.Sample
	emit := func(s devices.Sample, err error) {
		if err != nil {
			rt.Fatal(err)
		}
		got = append(got, s)
	}
	d.Feed(frame, emit)
	d.Idle(emit)
	if len(got) != len(want) {
		rt.Fatalf("%d samples from %q, want %d", len(got), frame, len(want))
	}
	for i := range got {
		if g, w := said(got[i]), said(want[i]); g != w || got[i].Value.N != want[i].Value.N {
			rt.Fatalf("%q: got %s (N %d), want %s (N %d)", frame, g, got[i].Value.N, w, want[i].Value.N)
		}
	}
}

// TestOneBitTurnedOver turns every single bit of many good frames over. A profile with a CRC must refuse every one of
// them. The others must refuse what they can: the shares are counted and shown with -v.
func TestOneBitTurnedOver(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 1))
	sure := map[string]bool{"bench-line-checked": true, "bits-twos-crc": true, "modbus-angle-int32": true,
		"modbus-force-int16": true, "modbus-displacement-float": true}
	for name, p := range mustProfiles(t) {
		tried, wrong := 0, 0
		for range 50 {
			want := goodSamples(p, chance.Int64N(30_000))
			frame, err := p.Encode(want...)
			if err != nil {
				t.Fatal(err)
			}
			for bit := range 8 * len(frame) {
				spoilt := append([]byte(nil), frame...)
				spoilt[bit/8] ^= 1 << (bit % 8)
				tried++
				d := mustDecoder(t, p)
				d.Idle(nil)
				misread := false
				n := 0
				emit := func(s devices.Sample, err error) {
					if err == nil {
						misread = misread || n >= len(want) || said(s) != said(want[n])
						n++
					}
				}
				d.Feed(spoilt, emit)
				d.Idle(emit)
				if misread {
					wrong++
				}
			}
		}
		t.Logf("%-32s %6d frames with one bit turned over, %5d read wrong (%.1f %%)", name, tried, wrong, 100*float64(wrong)/float64(tried))
		if sure[name] && wrong > 0 {
			t.Errorf("%s: %d frames with one wrong bit were read", name, wrong)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	for _, p := range mustProfiles(b) {
		b.Run(p.Name, func(b *testing.B) {
			frame := goodFrame(b, p)
			d := mustDecoder(b, p)
			d.Idle(nil)
			n := 0
			emit := func(_ devices.Sample, err error) {
				if err != nil {
					b.Fatal(err)
				}
				n++
			}
			gap := p.Bits != nil && p.Bits.Gap
			b.ReportAllocs()
			b.SetBytes(int64(len(frame)))
			for b.Loop() {
				d.Feed(frame, emit)
				if gap {
					d.Idle(emit)
				}
			}
			if n == 0 {
				b.Fatal("nothing read")
			}
		})
	}
}

// A good frame costs no allocation, whatever its family.
func TestDecodeAllocatesNothing(t *testing.T) {
	all := mustProfiles(t)
	all["a bridge"] = mustBridge(t)
	for name, p := range all {
		frame := goodFrame(t, p)
		d := mustDecoder(t, p)
		emit := func(_ devices.Sample, err error) {
			if err != nil {
				t.Fatal(err)
			}
		}
		d.Idle(emit)
		d.Feed(frame, emit)
		d.Idle(emit)
		if n := testing.AllocsPerRun(100, func() { d.Feed(frame, emit); d.Idle(emit) }); n != 0 {
			t.Errorf("%s: %v allocations a frame", name, n)
		}
	}
}
