package capture

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
)

func names(hs []heard) []string {
	var out []string
	for _, h := range hs {
		out = append(out, h.gauge)
	}
	return out
}

func onChannel(ch string) heard {
	return heard{what: lineSample, sample: devices.Sample{Channel: ch, Value: quantity.OfLength(1, quantity.Base(quantity.Length), 3)}}
}

func TestASampleReachesTheGaugeOfItsChannel(t *testing.T) {
	m := &members{}
	var told []heard
	tell := func(h heard) { told = append(told, h) }
	m.add(bench.Gauge{Name: "left-probe", Channel: "a"}, tell)
	m.all(heard{what: lineUp, port: "/x"})
	m.add(bench.Gauge{Name: "right-probe", Channel: "b"}, tell)
	if len(told) != 1 || told[0].what != lineUp || told[0].gauge != "right-probe" {
		t.Errorf("a gauge that joins an open line is told %v, want that it is open", told)
	}
	for _, tc := range []struct {
		h    heard
		want []string
	}{
		{onChannel("a"), []string{"left-probe"}},
		{onChannel("b"), []string{"right-probe"}},
		{onChannel("c"), nil},
		{heard{what: lineSample, sample: devices.Sample{Key: "take"}}, []string{"left-probe"}},
	} {
		if got := names(m.addressed(tc.h)); !cmp.Equal(got, tc.want) {
			t.Errorf("channel %q, key %q reaches %v, want %v", tc.h.sample.Channel, tc.h.sample.Key, got, tc.want)
		}
	}
	if got := m.all(heard{what: lineFault, err: errors.New("bad frame")}); len(got) != 1 {
		t.Errorf("a bad frame is told %d times, want once", len(got))
	}
	if m.remove("left-probe") != 1 || m.has("left-probe") {
		t.Error("a removed gauge is still on the line")
	}
}

func TestAGaugeThatNamesNoChannelDoesNotMixTwo(t *testing.T) {
	m := &members{}
	m.add(bench.Gauge{Name: "probe"}, func(heard) {})
	if got := m.addressed(onChannel("a")); len(got) != 1 || got[0].what != lineSample {
		t.Fatalf("the only channel is not taken: %v", got)
	}
	got := m.addressed(onChannel("b"))
	if len(got) != 1 || got[0].what != lineFault {
		t.Fatalf("a second channel gives %v, want one fault that says what to do", got)
	}
	if got := m.addressed(onChannel("b")); got != nil {
		t.Errorf("the fault is told again: %v", got)
	}
	if got := m.addressed(onChannel("a")); len(got) != 1 || got[0].what != lineSample {
		t.Error("the first channel is lost to the second")
	}
}
