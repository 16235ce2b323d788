package devices_test

import (
	"bytes"
	"errors"
	"testing"

	"thoud/devices"
)

// fuzzed is a profile under test with its decoder, made once.
type fuzzed struct {
	devices.Profile
	dec  devices.Decoder
	good []byte
}

// fuzz feeds bytes to every shipped profile of a family, and to more. Whatever comes: no panic; the same samples however the bytes
// are cut; every sample's frame lies in the input as it is given; a sample that the profile can encode decodes to
// itself; and a good frame after a silence is read whatever came before it.
func fuzz(f *testing.F, family string, more ...devices.Profile) {
	var list []fuzzed
	for _, p := range mustProfiles(f) {
		if p.Family == family {
			list = append(list, fuzzed{p, mustDecoder(f, p), goodFrame(f, p)})
		}
	}
	for _, p := range more {
		list = append(list, fuzzed{p, mustDecoder(f, p), goodFrame(f, p)})
		f.Add(goodFrame(f, p), uint8(3))
	}
	for _, c := range mustCaptures(f, family) {
		for _, s := range c.steps {
			if s.verb == "got" {
				f.Add(s.bytes, uint8(3))
			}
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, cut uint8) {
		if len(data) > 2000 {
			return
		}
		for _, p := range list {
			p.cutAnywhere(t, data, int(cut%16)+1)
			p.recovers(t, data)
		}
	})
}

// cutAnywhere checks that the same comes of bytes at once and in pieces, and that each sample comes from its own frame.
func (p fuzzed) cutAnywhere(t *testing.T, data []byte, piece int) {
	t.Helper()
	whole := p.decodeAll(t, data, len(data)+1)
	pieces := p.decodeAll(t, data, piece)
	if len(whole) != len(pieces) {
		t.Fatalf("%s: %d samples at once, %d in pieces of %d", p.Name, len(whole), len(pieces), piece)
	}
	for i, s := range whole {
		if said(s) != said(pieces[i]) {
			t.Fatalf("%s: %s at once, %s in pieces", p.Name, said(s), said(pieces[i]))
		}
		again := p.decodeAll(t, s.Frame, len(s.Frame))
		found := false
		for _, a := range again {
			found = found || said(a) == said(s)
		}
		if !found {
			t.Fatalf("%s: %s does not come from its own frame %q (%d samples)", p.Name, said(s), s.Frame, len(again))
		}
	}
}

// recovers checks that a frame after garbage and a silence is read.
func (p fuzzed) recovers(t *testing.T, garbage []byte) {
	t.Helper()
	d := p.dec
	d.Reset()
	read := 0
	d.Feed(garbage, func(devices.Sample, error) {})
	d.Idle(func(devices.Sample, error) {})
	count := func(_ devices.Sample, err error) {
		if err != nil {
			t.Fatalf("%s: a good frame after garbage and silence: %v", p.Name, err)
		}
		read++
	}
	d.Feed(p.good, count)
	d.Idle(count)
	if read == 0 {
		t.Fatalf("%s: a good frame after garbage and silence was not read", p.Name)
	}
}

func (p fuzzed) decodeAll(t *testing.T, data []byte, piece int) []devices.Sample {
	t.Helper()
	d := p.dec
	d.Reset()
	d.Idle(func(devices.Sample, error) { t.Fatal("something came of silence") })
	var list []devices.Sample
	emit := func(s devices.Sample, err error) {
		if err != nil {
			var f *devices.FrameError
			if !errors.As(err, &f) || f.Why == "" || len(f.Frame) == 0 {
				t.Fatalf("%s: error %#v", p.Name, err)
			}
			return
		}
		if !bytes.Contains(data, s.Frame) {
			t.Fatalf("%s: frame %q is not in %q", p.Name, s.Frame, data)
		}
		s.Frame = append([]byte(nil), s.Frame...)
		list = append(list, s)
	}
	for b := data; len(b) > 0; {
		n := min(max(piece, 1), len(b))
		d.Feed(b[:n], emit)
		b = b[n:]
	}
	d.Idle(emit)
	return list
}

func FuzzText(f *testing.F)   { fuzz(f, "text") }
func FuzzBits(f *testing.F)   { fuzz(f, "bits") }
func FuzzModbus(f *testing.F) { fuzz(f, "modbus") }
func FuzzBench(f *testing.F)  { fuzz(f, "bench", mustBridge(f)) }

func FuzzProfile(f *testing.F) {
	f.Add([]byte(good))
	for _, p := range mustProfiles(f) {
		f.Add(p.TOML())
	}
	f.Add(mustBridge(f).TOML())
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := devices.ParseProfile("x.toml", data)
		if err != nil {
			return
		}
		d := mustDecoder(t, p)
		d.Feed(data, func(devices.Sample, error) {})
		again, err := devices.ParseProfile("y.toml", p.TOML())
		if err != nil {
			t.Fatalf("%v in\n%s", err, p.TOML())
		}
		if !bytes.Equal(again.TOML(), p.TOML()) {
			t.Fatalf("written\n%s\nthen\n%s", p.TOML(), again.TOML())
		}
	})
}
