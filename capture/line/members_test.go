package line

import (
	"errors"
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
	m.add(bench.Gauge{Name: "left-probe", Channel: "a"}, tell)
	m.all(Event{Kind: Up, Port: "/x"})
	m.add(bench.Gauge{Name: "right-probe", Channel: "b"}, tell)
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
	if got := m.all(Event{Kind: Fault, Err: errors.New("bad frame")}); len(got) != 1 {
		t.Errorf("a bad frame is told %d times, want once", len(got))
	}
	if m.remove("left-probe") != 1 || m.has("left-probe") {
		t.Error("a removed gauge is still on the line")
	}
}

func TestAGaugeThatNamesNoChannelDoesNotMixTwo(t *testing.T) {
	m := &members{}
	m.add(bench.Gauge{Name: "probe"}, func(Event) {})
	if got := m.addressed(onChannel("a")); len(got) != 1 || got[0].Kind != Sample {
		t.Fatalf("the only channel is not taken: %v", got)
	}
	got := m.addressed(onChannel("b"))
	if len(got) != 1 || got[0].Kind != Fault {
		t.Fatalf("a second channel gives %v, want one fault that says what to do", got)
	}
	if got := m.addressed(onChannel("b")); got != nil {
		t.Errorf("the fault is told again: %v", got)
	}
	if got := m.addressed(onChannel("a")); len(got) != 1 || got[0].Kind != Sample {
		t.Error("the first channel is lost to the second")
	}
}
