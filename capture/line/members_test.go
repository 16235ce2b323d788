package line

import (
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
)

func names(evs []Event) []string {
	var out []string
	for _, ev := range evs {
		out = append(out, ev.Gauge)
	}
	return out
}

func onChannel(ch string) Event {
	return Event{Kind: Sample, Sample: devices.Sample{Channel: ch, Value: quantity.OfLength(1, quantity.Base(quantity.Length), 3)}}
}

func TestASampleReachesTheGaugeOfItsChannel(t *testing.T) {
	m := &members{}
	var told []Event
	tell := func(ev Event) { told = append(told, ev) }
	m.add(bench.Gauge{Name: "left-probe", Channel: "a"}, devices.Profile{}, tell)
	m.opened(Event{Kind: Up, Port: "/x"})
	m.add(bench.Gauge{Name: "right-probe", Channel: "b"}, devices.Profile{}, tell)
	if len(told) != 1 || told[0].Kind != Up || told[0].Gauge != "right-probe" {
		t.Errorf("a gauge that joins an open line is told %v, want that it is open", told)
	}
	for _, tc := range []struct {
		ev   Event
		want []string
	}{
		{onChannel("a"), []string{"left-probe"}},
		{onChannel("b"), []string{"right-probe"}},
		{onChannel("c"), nil},
		{Event{Kind: Sample, Sample: devices.Sample{Key: "take"}}, []string{"left-probe"}},
	} {
		if got := names(m.addressed(tc.ev)); !cmp.Equal(got, tc.want) {
			t.Errorf("channel %q, key %q reaches %v, want %v", tc.ev.Sample.Channel, tc.ev.Sample.Key, got, tc.want)
		}
	}
	if got := m.fault(Event{Kind: Fault, Err: errors.New("bad frame")}); len(got) != 1 {
		t.Errorf("a bad frame is told %d times, want once", len(got))
	}
	if m.remove("left-probe") != 1 || m.has("left-probe") {
		t.Error("a removed gauge is still on the line")
	}
}

// A gauge that names no channel takes nothing where there are two: neither the first that was heard, nor the second.
func TestAGaugeThatNamesNoChannelTakesNothingOfTwo(t *testing.T) {
	two := devices.Profile{Name: "two", Family: devices.FamilyBench, Bench: &devices.Bench{Channels: []string{"a", "b"}}}
	for name, c := range map[string]struct {
		profile devices.Profile
		want    []EventKind // of the samples a, b, b, a
	}{
		"the profile leaves them open": {devices.Profile{Family: devices.FamilyBench, Bench: &devices.Bench{}}, []EventKind{Sample, Fault}},
		"the profile knows of two":     {two, []EventKind{Fault}},
	} {
		m := &members{}
		m.add(bench.Gauge{Name: "probe"}, c.profile, func(Event) {})
		var got []EventKind
		for _, ch := range []string{"a", "b", "b", "a"} {
			for _, ev := range m.addressed(onChannel(ch)) {
				got = append(got, ev.Kind)
				if ev.Kind == Fault && !strings.Contains(ev.Err.Error(), `gauge "probe": its line carries the channels`) {
					t.Errorf("%s: %v", name, ev.Err)
				}
			}
		}
		if !cmp.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
