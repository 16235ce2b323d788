package devices_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/devices"
)

// throughBridge is what a bridge sends while the displays of its gauges stand at some values: each frame twice, with a
// pedal and a spoilt frame between.
func throughBridge(t *testing.T, p devices.Profile, shown string, all ...devices.Sample) devices.Press {
	t.Helper()
	press := devices.Press{Shown: mustParse(t, shown)}
	for range 2 {
		for _, s := range append(all, devices.Sample{Key: "pedal"}) {
			b, err := p.Encode(s)
			if err != nil {
				t.Fatal(err)
			}
			press.Bytes = append(press.Bytes, b...)
		}
	}
	press.Bytes = append(press.Bytes, fmt.Appendf(nil, ":left bits 30 A00181C8 fault *%02X\n", checkSum(":left bits 30 A00181C8 fault"))...)
	return press
}

// Raw bits are learnt in either order of the bits from five presses, each channel beside the other, and read values that
// were never shown.
func TestRawBitsAreTaughtFromFivePresses(t *testing.T) {
	bridge := mustBridge(t)
	base := devices.Profile{Name: "taught", Title: "A bridge that was taught", Line: bridge.Line}
	for _, c := range []struct {
		channel string
		shown   []string
		proof   string
	}{
		{"left", []string{"0.000 mm", "12.345 mm", "-12.345 mm", "987.654 mm", "0.5071 in"}, "-3.1416 in"},
		{"right", []string{"0.000 mm", "12.345 mm", "-12.345 mm", "60000.001 mm", "33.333 mm"}, "-271.828 mm"},
	} {
		still := devices.Sample{Channel: "right", Value: mustParse(t, "4.000 mm")}
		if c.channel == "right" {
			still.Channel = "left"
		}
		var presses []devices.Press
		for _, shown := range c.shown {
			presses = append(presses, throughBridge(t, bridge, shown, devices.Sample{Channel: c.channel, Value: mustParse(t, shown)}, still))
		}
		if _, err := devices.Teach(base, true, presses[:4]); !errors.Is(err, devices.ErrNoLayout) || !strings.Contains(err.Error(), "raw bits want 5 different values") {
			t.Errorf("four presses: %v", err)
		}
		l, err := devices.Teach(base, true, presses)
		if err != nil {
			t.Fatal(err)
		}
		if l, err = l.Prove(throughBridge(t, bridge, c.proof, devices.Sample{Channel: c.channel, Value: mustParse(t, c.proof)}, still)); err != nil {
			t.Fatal(err)
		}
		learnt, err := devices.ParseProfile("taught.toml", l.Profile().TOML())
		if err != nil {
			t.Fatal(err)
		}
		if l.Channel() != c.channel || !learnt.Bench.Checked {
			t.Errorf("learnt the channel %q, want %q\n%s", l.Channel(), c.channel, learnt.TOML())
		}
		readsTheBridge(t, bridge, learnt, c.channel)
		base = learnt // the other channel is learnt beside this one
	}
	if len(base.Bench.Bits) != 2 {
		t.Errorf("the first channel was forgotten:\n%s", base.TOML())
	}
}

// readsTheBridge checks that a learnt profile reads a channel's values as the bridge's own does.
func readsTheBridge(t *testing.T, bridge, learnt devices.Profile, channel string) {
	t.Helper()
	chance := rand.New(rand.NewPCG(4, 5))
	d := mustDecoder(t, learnt)
	for range 200 {
		v, err := quantity.Make(chance.Int64N(2_000_001)-1_000_000, 3, quantity.Base(quantity.Length))
		if err != nil {
			t.Fatal(err)
		}
		line, err := bridge.Encode(devices.Sample{Channel: channel, Value: v})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for range 2 {
			d.Feed(line, func(s devices.Sample, err error) {
				if n++; err != nil || s.Value.String() != v.String() || s.Channel != channel {
					t.Fatalf("sent %s on %s, read %s on %s, %v\n%s", v, channel, s.Value, s.Channel, err, learnt.TOML())
				}
			})
		}
		if n != 2 {
			t.Fatalf("%d values of two frames", n)
		}
	}
}
