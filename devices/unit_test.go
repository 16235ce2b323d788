package devices_test

import (
	"testing"

	"thoud/calc/quantity"
	"thoud/devices"
)

// What was sent is read again from its frame alone, whatever the family; a frame without a unit in the unit of the display.
func TestAFrameIsReadAgain(t *testing.T) {
	all := mustProfiles(t)
	all["a bridge"] = mustBridge(t)
	for name, p := range all {
		want := goodSamples(p, 1230)
		frame, err := p.Encode(want...)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			got, err := p.Reread(frame, w.Channel, "")
			if err != nil || got != w.Value {
				t.Errorf("%s: %s, %v; want %s", name, got, err, w.Value)
			}
		}
		if got, err := p.Reread(frame[:len(frame)/2], "", ""); err == nil {
			t.Errorf("%s: half a frame reads %s", name, got)
		}
		unit := p.UnnamedUnit(want[0].Channel)
		if u, err := quantity.UnitOf(unit); unit == "" || err != nil || u.Kind != quantity.Length {
			continue
		}
		got, err := p.Reread(frame, want[0].Channel, "in")
		if err != nil || got.Digits() != want[0].Value.Digits() || got.Unit.Code != "in" {
			t.Errorf("%s: in inches %s, %v; want the figures of %s", name, got, err, want[0].Value)
		}
	}
}

func TestUnitsThatFramesDoNotName(t *testing.T) {
	all := mustProfiles(t)
	all["a bridge"] = mustBridge(t)
	for _, c := range []struct{ profile, channel, want string }{
		{"text-signed-decimal-cr", "", "mm"}, {"text-signed-decimal-unit-crlf", "", ""}, {"text-two-channels-crlf", "a", "in"},
		{"bits-angle-pushed", "", "deg"}, {"bits-bcd-seven-bytes", "", ""}, {"modbus-force-int16", "", "N"}, {"modbus-displacement-float", "b", "mm"},
		{"bench-line", "left", ""}, {"a bridge", "left", ""}, {"a bridge", "right", "mm"},
	} {
		if got := all[c.profile].UnnamedUnit(c.channel); got != c.want {
			t.Errorf("%s, channel %q: %q, want %q", c.profile, c.channel, got, c.want)
		}
	}
	s := devices.Sample{Value: mustParse(t, "1.5 mm"), Unnamed: true}
	if err := s.InUnit("furlong"); err == nil || s.Value.Unit.Code != "mm" {
		t.Errorf("in furlongs: %s, %v", s.Value, err)
	}
}
