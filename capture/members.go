package capture

import (
	"fmt"
	"slices"
	"sync"

	"thoud/capture/bench"
	"thoud/devices"
)

// members are the gauges that speak over one port, each on a channel of its own. The bench loop adds and removes them
// while the line's goroutine looks.
type members struct {
	mu   sync.Mutex
	list []member
	// The last word of the line to its members: a gauge that joins later is told it too.
	up *heard
}

type member struct {
	gauge   bench.Gauge
	channel string // what a gauge without a named channel was first heard on
	puzzled bool   // several channels were heard, and it names none
}

func (m *members) add(g bench.Gauge, tell func(heard)) {
	m.mu.Lock()
	m.list = append(m.list, member{gauge: g})
	up := m.up
	m.mu.Unlock()
	if up != nil {
		h := *up
		h.gauge = g.Name
		tell(h)
	}
}

func (m *members) has(name string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.ContainsFunc(m.list, func(one member) bool { return one.gauge.Name == name })
}

// remove takes a gauge off the line and reports how many are left.
func (m *members) remove(name string) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	for i, one := range m.list {
		if one.gauge.Name == name {
			m.list = append(m.list[:i:i], m.list[i+1:]...)
			break
		}
	}
	return len(m.list)
}

// first is the gauge that the line is resolved by.
func (m *members) first() bench.Gauge {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.list) == 0 {
		return bench.Gauge{}
	}
	return m.list[0].gauge
}

// all addresses what concerns the whole line to every gauge on it.
func (m *members) all(h heard) []heard {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch h.what {
	case lineUp:
		up := h
		m.up = &up
	case lineDown:
		m.up = nil
	}
	var out []heard
	for _, one := range m.list {
		h.gauge = one.gauge.Name
		if h.what == lineFault {
			h.err = fmt.Errorf("gauge %q: %w", one.gauge.Name, h.err)
		}
		out = append(out, h)
		if h.what == lineFault {
			break // a bad frame is told once, not once a channel
		}
	}
	return out
}

// addressed gives a sample to the gauges whose channel it is. A key without a channel is the first gauge's. A gauge that
// names no channel takes the only one there is; when a second one speaks, it is told rather than guessed.
func (m *members) addressed(h heard) []heard {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []heard
	for i := range m.list {
		one := &m.list[i]
		h.gauge = one.gauge.Name
		switch {
		case h.sample.Channel == "" && h.sample.Key != "":
			return []heard{h}
		case one.gauge.Channel == h.sample.Channel:
			out = append(out, h)
		case one.gauge.Channel == "" && (one.channel == "" || one.channel == h.sample.Channel):
			one.channel = h.sample.Channel
			out = append(out, h)
		case one.gauge.Channel == "" && !one.puzzled:
			one.puzzled = true
			out = append(out, heard{gauge: one.gauge.Name, at: h.at, what: lineFault, err: fmt.Errorf(
				"gauge %q: its line carries the channels %q and %q: register a gauge for each with --channel", one.gauge.Name, one.channel, h.sample.Channel)})
		case one.gauge.Channel != "" && h.sample.Channel == "":
			out = append(out, h)
		}
	}
	return out
}

// copied is a sample that outlives the decoder's buffers.
func copied(s devices.Sample) devices.Sample {
	s.Frame = append([]byte(nil), s.Frame...)
	s.Text = append([]byte(nil), s.Text...)
	return s
}
