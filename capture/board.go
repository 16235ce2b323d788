package capture

import (
	"sync"
	"time"

	"thoud/capture/bench"
)

// board keeps the newest value of every gauge and tells it at most 20 times a second, the latest winning.
type board struct {
	mu     sync.Mutex
	tell   Teller
	now    func() time.Time
	gauges map[string]*shown
}

type shown struct {
	zero    *bench.ZeroInForce
	live    bench.Live
	changed bool
	newest  heard // the last value, for a reading
	valued  bool
}

func newBoard(tell Teller, now func() time.Time) *board {
	return &board{tell: tell, now: now, gauges: map[string]*shown{}}
}

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

// hear keeps what a line told. Called by the line's goroutine.
func (b *board) hear(h heard) {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.at(h.gauge)
	s.changed = true
	s.live.At = h.at.UnixMicro()
	switch h.what {
	case lineUp:
		s.live.Open, s.live.Fault = true, ""
	case lineDown:
		s.live.Open, s.valued = false, false
		s.live.Fault = h.err.Error()
	case lineFault:
		s.live.Fault = h.err.Error()
	case lineSample:
		s.live.Open = true
		s.live.Status = h.sample.Status.String()
		if h.sample.Value.Valid() {
			s.live.Raw, s.live.Fault = h.sample.Value, ""
			s.newest, s.valued = h, true
		}
	}
}

func (b *board) sweeping(name string, samples int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.at(name).live.Sweep = samples
}

// newest gives the last value of a gauge that is open.
func (b *board) newest(name string) (heard, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	s, ok := b.gauges[name]
	if !ok || !s.valued {
		return heard{}, false
	}
	return s.newest, true
}

// flush tells what changed since the last call.
func (b *board) flush() {
	var out []bench.Live
	b.mu.Lock()
	for _, s := range b.gauges {
		if !s.changed {
			continue
		}
		s.changed = false
		v := s.live
		v.Value = nil
		if s.zero != nil && v.Raw.Valid() {
			if val, err := s.zero.WithZero(v.Raw); err == nil {
				v.Value = &val
			}
		}
		out = append(out, v)
	}
	b.mu.Unlock()
	for _, v := range out {
		b.tell.Live(v)
	}
}
