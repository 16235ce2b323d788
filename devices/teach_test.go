package devices_test

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/devices"
)

func mustParse(tb testing.TB, s string) quantity.Value {
	tb.Helper()
	v, err := quantity.Parse(s)
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// pupil is what is known of a gauge before it is taught.
func pupil(line devices.Line) devices.Profile {
	return devices.Profile{Name: "taught", Title: "A gauge that was taught", Line: line}
}

// pressed gives what a gauge of a profile sends for a display.
func pressed(tb testing.TB, p devices.Profile, shown string, s devices.Sample) devices.Press {
	tb.Helper()
	s.Value = mustParse(tb, shown)
	b, err := p.Encode(s)
	if err != nil {
		tb.Fatal(err)
	}
	return devices.Press{Shown: s.Value, Bytes: b}
}

// The shipped profiles serve as gauges that nobody knows: what was learnt from four presses must read any other value
// as the profile itself does.
func TestTeach(t *testing.T) {
	for _, c := range []struct {
		profile string
		say     devices.Sample
		shown   []string
		proof   string
		more    func(n int64) string // another display
	}{
		{"text-signed-decimal-cr", devices.Sample{}, []string{"0.000 mm", "1.234 mm", "-1.234 mm"}, "12.087 mm", nil},
		{"text-signed-decimal-unit-crlf", devices.Sample{}, []string{"0.000 mm", "1.234 mm", "-1.234 mm", "0.0486 in"}, "-0.9071 in", nil},
		{"text-7e1-fixed-comma-cr", devices.Sample{}, []string{"0.000 mm", "1.234 mm", "-1.234 mm", "0.049 in"}, "17.086 mm", nil},
		{"text-signed-counts-length", devices.Sample{}, []string{"0.0000 mm", "1.2340 mm", "-1.2345 mm"}, "17.0865 mm", nil},
		{"text-weight-lf", devices.Sample{Status: devices.Stable}, []string{"0.00 g", "182.40 g", "-182.40 g"}, "1017.36 g", nil},
		{"bench-line", devices.Sample{Channel: "left"}, []string{"0.000 mm", "1.234 mm", "-1.234 mm", "0.0486 in"}, "17.086 mm", nil},
		{"bits-bcd-seven-bytes", devices.Sample{Status: devices.Stable}, []string{"0.000 mm", "1.234 mm", "-1.234 mm", "0.0486 in"}, "987.605 mm", nil},
		{"bits-twos-crc", devices.Sample{}, []string{"0.0000 mm", "1.2340 mm", "-1.2340 mm", "0.5071 mm"}, "-407.8613 mm", nil},
	} {
		t.Run(c.profile, func(t *testing.T) {
			p := mustProfiles(t)[c.profile]
			var presses []devices.Press
			for _, s := range c.shown {
				presses = append(presses, pressed(t, p, s, c.say))
			}
			l, err := devices.Teach(pupil(devices.Line{Baud: p.Line.Baud, DataBits: 8, Parity: "none", StopBits: 1}), false, presses)
			if err != nil {
				t.Fatal(err)
			}
			proved, err := l.Prove(pressed(t, p, c.proof, c.say))
			if err != nil {
				t.Fatalf("%v\n%s", err, l.Profile().TOML())
			}
			got := proved.Profile()
			t.Logf("%s\n%s", got.TOML(), strings.Join(proved.Ambiguous(), "\n"))
			again, err := devices.ParseProfile("taught.toml", got.TOML())
			if err != nil {
				t.Fatalf("what was written cannot be read: %v", err)
			}
			readsAsBefore(t, p, again, c.say, mustParse(t, c.proof))
		})
	}
}

// readsAsBefore checks that 200 values which were never shown are read from a gauge's frames by the profile that was
// learnt from others.
func readsAsBefore(t *testing.T, gauge, learnt devices.Profile, say devices.Sample, like quantity.Value) {
	t.Helper()
	chance := rand.New(rand.NewPCG(2, 3))
	for range 200 {
		v, err := quantity.Make(chance.Int64N(20_001)-10_000, like.Places, like.Unit)
		if err != nil {
			t.Fatal(err)
		}
		if gauge.Name == "text-signed-counts-length" {
			v.N = v.N / 5000 * 5000
		}
		say.Value = v
		frame, err := gauge.Encode(say)
		if err != nil {
			t.Fatal(err)
		}
		if read := readings(t, learnt, frame); len(read) != 1 || read[0] != v.String() {
			t.Fatalf("sent %s, read %q\n%s", v, read, learnt.TOML())
		}
	}
}

// readings are the values that a profile reads from frames after a silence, each with its channel; what it refuses is a
// fault of the test.
func readings(t *testing.T, p devices.Profile, frames []byte) []string {
	t.Helper()
	var read []string
	emit := func(s devices.Sample, err error) {
		if err != nil {
			t.Fatalf("%v\n%s", err, p.TOML())
		}
		read = append(read, strings.TrimPrefix(s.Channel+" "+s.Value.String(), " "))
	}
	d := mustDecoder(t, p)
	d.Idle(emit)
	d.Feed(frames, emit)
	d.Idle(emit)
	return read
}

func TestTeachRefuses(t *testing.T) {
	line := devices.DefaultLine()
	press := func(shown, bytes string) devices.Press {
		return devices.Press{Shown: mustParse(t, shown), Bytes: []byte(bytes)}
	}
	for _, c := range []struct {
		name    string
		presses []devices.Press
		is      error
		want    string
	}{
		{"two presses", []devices.Press{press("0.000 mm", "+0.000\r"), press("1.234 mm", "+1.234\r")}, devices.ErrTooFew, "2 presses"},
		{"one value", []devices.Press{press("0.000 mm", "+0.000\r"), press("0.000 mm", "+0.000\r"), press("0.000 mm", "+0.000\r")}, devices.ErrTooFew, "1 different"},
		{"nothing came", []devices.Press{press("0.000 mm", "+0.000\r"), press("1.234 mm", ""), press("2.345 mm", "+2.345\r")}, devices.ErrTooFew, "press 2 (1.234 mm) brought nothing"},
		{"does not follow", []devices.Press{press("0.000 mm", "+0.000\r"), press("1.234 mm", "+9.999\r"), press("2.345 mm", "+2.345\r")}, devices.ErrNoLayout, "no run of figures"},
		{"wrong sign", []devices.Press{press("0.000 mm", "+0.000\r"), press("-1.234 mm", "+1.234\r"), press("2.345 mm", "+2.345\r")}, devices.ErrNoLayout, "the display shows -1.234 mm"},
		{"unit not said", []devices.Press{press("0.000 mm", "+0.000\r"), press("1.234 mm", "+1.234\r"), press("0.0486 in", "+0.0486\r")}, devices.ErrNoLayout, "they do not say the unit"},
		{"something else changes", []devices.Press{press("0.000 mm", "+0.000 A\r"), press("1.234 mm", "+1.234 B\r"), press("-1.234 mm", "-1.234 A\r")}, devices.ErrNoLayout, "keep everything but the value unchanged"},
	} {
		_, err := devices.Teach(pupil(line), false, c.presses)
		if !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %v with %q", c.name, err, c.is, c.want)
		}
	}
	good := []devices.Press{press("0.000 mm", "+0.000\r"), press("1.234 mm", "+1.234\r"), press("-2.345 mm", "-2.345\r")}
	l, err := devices.Teach(pupil(line), false, good)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Prove(good[1]); !errors.Is(err, devices.ErrTooFew) {
		t.Errorf("proved with a value that was shown before: %v", err)
	}
	if _, err := l.Prove(press("3.456 mm", "+3.457\r")); !errors.Is(err, devices.ErrNoLayout) || !strings.Contains(err.Error(), "reads 3.457 mm") {
		t.Errorf("proved with a wrong value: %v", err)
	}
}

// Whatever is taught: no panic, and what was learnt reads the presses as the display showed them.
func FuzzTeach(f *testing.F) {
	f.Add([]byte("+0.000\r"), []byte("+1.234\r"), []byte("-1.234\r"))
	f.Add([]byte("\x88\x00\x00\x00\x00"), []byte("\x88\x01\x02\x03\x04"), []byte("\x8a\x01\x02\x03\x04"))
	shown := []string{"0.000 mm", "1.234 mm", "-1.234 mm"}
	f.Fuzz(func(t *testing.T, a, b, c []byte) {
		if len(a)+len(b)+len(c) > 60 {
			return
		}
		var presses []devices.Press
		for i, x := range [][]byte{a, b, c} {
			presses = append(presses, devices.Press{Shown: mustParse(t, shown[i]), Bytes: x})
		}
		l, err := devices.Teach(pupil(devices.DefaultLine()), false, presses)
		if err != nil {
			if !errors.Is(err, devices.ErrTooFew) && !errors.Is(err, devices.ErrNoLayout) {
				t.Fatal(err)
			}
			return
		}
		p := l.Profile()
		for _, press := range presses {
			if l.Channel() != "" {
				continue // its other channels read what they read
			}
			d := mustDecoder(t, p)
			n := 0
			emit := func(s devices.Sample, err error) {
				if err != nil || s.Value.N != press.Shown.N {
					t.Fatalf("%v %s for %s\n%s", err, s.Value, press.Shown, p.TOML())
				}
				n++
			}
			d.Idle(emit)
			d.Feed(press.Bytes, emit)
			d.Idle(emit)
			if n == 0 {
				t.Fatalf("nothing read for %s\n%s", press.Shown, p.TOML())
			}
		}
	})
}
