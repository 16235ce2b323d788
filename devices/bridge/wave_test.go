package bridge_test

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"time"

	"thoud/devices/bridge"
)

// wave is what happens on the pins, by the time since the start.
type wave struct {
	edges []edge
	end   time.Duration
}

type edge struct {
	at   time.Duration
	pin  string
	high bool
}

func (w *wave) set(at time.Duration, pin string, high bool) {
	w.edges = append(w.edges, edge{at, pin, high})
	w.end = max(w.end, at)
}

// levels gives the wave as the harness plays it.
func (w *wave) levels() []bridge.Level {
	slices.SortStableFunc(w.edges, func(a, b edge) int { return cmp.Compare(a.at, b.at) })
	var list []bridge.Level
	last := time.Duration(0)
	for _, e := range w.edges {
		list = append(list, bridge.Level{After: e.at - last, Pin: e.pin, High: e.high})
		last = e.at
	}
	return list
}

// pads are the two pads of a gauge.
type pads struct {
	clock, data string
	rising      bool // the edge at which the data are good
}

var (
	left  = pads{"D2", "D4", true}
	right = pads{"D3", "D5", false}
)

// frame plays a frame from a time on and gives its end: the data change on one edge of the clock and are good on the other.
func (w *wave) frame(from time.Duration, p pads, bits []bool, period time.Duration) time.Duration {
	at := from
	for _, b := range bits {
		w.set(at, p.data, b)
		if p.rising {
			w.set(at, p.clock, false)
			w.set(at+period/2, p.clock, true)
		} else {
			w.set(at, p.clock, true)
			w.set(at+period/2, p.clock, false)
		}
		at += period
	}
	// Both pads go back to their rest. Of a clock that falls on good data this is an edge that does not count: it is
	// that frame's last half period.
	w.set(at, p.clock, true)
	return at
}

// key plays a key that is pressed for a while and bounces at both ends.
func (w *wave) key(at time.Duration, pin string, held time.Duration, chance *rand.Rand) {
	for _, end := range []struct {
		at  time.Duration
		low bool
	}{{at, true}, {at + held, false}} {
		t := end.at
		for range 5 {
			w.set(t, pin, !end.low)
			t += time.Duration(chance.Int64N(int64(time.Millisecond)))
			w.set(t, pin, end.low)
			t += time.Duration(chance.Int64N(int64(time.Millisecond)))
		}
		w.set(t, pin, !end.low)
	}
}

// bits gives the lowest n bits of a number, the high one first.
func bits(v int64, n int) []bool {
	var out []bool
	for i := n - 1; i >= 0; i-- {
		out = append(out, v>>i&1 == 1)
	}
	return out
}

func reversed(b []bool) []bool {
	b = slices.Clone(b)
	slices.Reverse(b)
	return b
}

// leftFrame and rightFrame are the invented frames of testdata/devices/bridge/two-gauges.toml, put together here without
// the profile.
func leftFrame(counts int64, inch bool) []bool {
	out := append(bits(0b1010, 4), inch)
	return append(append(out, bits(counts, 24)...), bits(0b01, 2)...)
}

func rightFrame(counts int64) []bool {
	out := append(reversed(bits(0b101001, 6)), reversed(bits(counts, 27))...)
	return append(append(out, make([]bool, 8)...), reversed(bits(0b0110, 4))...)
}
