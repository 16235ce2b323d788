package capture

import (
	"maps"
	"slices"
	"sync"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
)

// board keeps the newest value of every gauge and tells it at most 20 times a second, the latest winning: at once where
// the gauge was quiet before, otherwise at the next flush.
type board struct {
	telling sync.Mutex // held from making a value until it is told, so that an older one is never told after a newer

	mu        sync.Mutex
	publisher Publisher
	now       func() time.Time
	gauges    map[string]*shown
}

type shown struct {
	zero    *bench.ZeroInForce
	live    bench.Live
	changed bool
	told    time.Time
	newest  bench.Sample // the last value, for a reading
	valued  bool
}

func newBoard() *board { return &board{gauges: map[string]*shown{}} }

// gauge keeps the zero a live value is shown against.
func (b *board) gauge(g bench.GaugeState) {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.at(g.Name)
	if s.zero != g.Zero {
		s.zero, s.changed = g.Zero, true
	}
}

func (b *board) remove(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.gauges, name)
}

func (b *board) at(name string) *shown {
	s, ok := b.gauges[name]
	if !ok {
		s = &shown{live: bench.Live{Gauge: name}}
		b.gauges[name] = s
	}
	return s
}

// leastApart is how far apart two values of a gauge are told.
const leastApart = 50 * time.Millisecond

// onEvent keeps what a line told. Called by the line's goroutine.
func (b *board) onEvent(ev line.Event) {
	b.keep(ev)
	b.telling.Lock()
	defer b.telling.Unlock()
	if v, due := b.due(ev.Gauge, leastApart); due {
		b.publisher.Live(v)
	}
}

func (b *board) keep(ev line.Event) {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.at(ev.Gauge)
	s.changed = true
	s.live.At = ev.At.UnixMicro()
	switch ev.Kind {
	case line.Up:
		s.live.Open, s.live.Fault, s.live.Noise = true, "", 0
	case line.Down:
		s.live.Open, s.valued = false, false
		s.live.Fault = ev.Err.Error()
	case line.Fault:
		s.live.Fault = ev.Err.Error()
	case line.Noise:
		s.live.Noise++
	case line.Sample, line.Unconfirmed:
		s.live.Open = true
		s.live.Status = ev.Sample.Status.String()
		if ev.Sample.Value.Valid() {
			s.live.Raw, s.live.Fault = ev.Sample.Value, ""
			s.newest, s.valued = sampleOf(ev), true
		}
	}
}

func (b *board) sweeping(name string, samples int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.at(name).live.Sweep = samples
}

// hand keeps what the hand does now while a gauge is watched, and reports whether that changed.
func (b *board) hand(name, words string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.at(name)
	was := s.live.Hand
	s.live.Hand, s.changed = words, s.changed || was != words
	return was != words
}

// all gives the last values of the gauges that are open and have sent one.
func (b *board) all() map[string]bench.Sample {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := make(map[string]bench.Sample, len(b.gauges))
	for name, s := range b.gauges {
		if s.valued {
			out[name] = s.newest
		}
	}
	return out
}

// live gives what every gauge shows now, by name.
func (b *board) live() []bench.Live {
	b.mu.Lock()
	defer b.mu.Unlock()
	out := make([]bench.Live, 0, len(b.gauges))
	for _, name := range slices.Sorted(maps.Keys(b.gauges)) {
		out = append(out, b.gauges[name].shows())
	}
	return out
}

// shows is the live value against the zero in force.
func (s *shown) shows() bench.Live {
	v := s.live
	v.Value = nil
	if s.zero != nil && v.Raw.Valid() {
		if val, err := s.zero.WithZero(v.Raw); err == nil {
			v.Value = &val
		}
	}
	return v
}

// due gives what is to be told of a gauge now, if it changed and the last one was told so long ago. The caller holds
// telling.
func (b *board) due(name string, apart time.Duration) (bench.Live, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	s, ok := b.gauges[name]
	now := b.now()
	if !ok || !s.changed || now.Sub(s.told) < apart {
		return bench.Live{}, false
	}
	s.changed, s.told = false, now
	return s.shows(), true
}

// waits reports whether a gauge changed and that was not told yet.
func (b *board) waits() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.gauges {
		if s.changed {
			return true
		}
	}
	return false
}

// flush tells what changed and was not told since. It is called at intervals of leastApart.
func (b *board) flush() {
	b.mu.Lock()
	names := slices.Collect(maps.Keys(b.gauges))
	b.mu.Unlock()
	b.telling.Lock()
	defer b.telling.Unlock()
	for _, name := range names {
		if v, due := b.due(name, 0); due {
			b.publisher.Live(v)
		}
	}
}
