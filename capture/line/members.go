package line

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
	up *Event
}

type member struct {
	gauge   bench.Gauge
	channel string // what a gauge without a named channel was first heard on
	puzzled bool   // several channels were heard, and it names none
}

func (m *members) add(g bench.Gauge, onEvent func(Event)) {
	m.mu.Lock()
	m.list = append(m.list, member{gauge: g})
	up := m.up
	m.mu.Unlock()
	if up != nil {
		ev := *up
		ev.Gauge = g.Name
		onEvent(ev)
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
func (m *members) all(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch ev.Kind {
	case Up:
		up := ev
		m.up = &up
	case Down:
		m.up = nil
	}
	var out []Event
	for _, one := range m.list {
		ev.Gauge = one.gauge.Name
		if ev.Kind == Fault {
			ev.Err = fmt.Errorf("gauge %q: %w", one.gauge.Name, ev.Err)
		}
		out = append(out, ev)
		if ev.Kind == Fault {
			break // a bad frame is told once, not once a channel
		}
	}
	return out
}

// addressed gives a sample to the gauges whose channel it is. A key without a channel is the first gauge's. A gauge that
// names no channel takes the only one there is; when a second one speaks, it is told rather than guessed.
func (m *members) addressed(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []Event
	for i := range m.list {
		one := &m.list[i]
		ev.Gauge = one.gauge.Name
		switch {
		case ev.Sample.Channel == "" && ev.Sample.Key != "":
			return []Event{ev}
		case one.gauge.Channel == ev.Sample.Channel:
			out = append(out, ev)
		case one.gauge.Channel == "" && (one.channel == "" || one.channel == ev.Sample.Channel):
			one.channel = ev.Sample.Channel
			out = append(out, ev)
		case one.gauge.Channel == "" && !one.puzzled:
			one.puzzled = true
			out = append(out, Event{Gauge: one.gauge.Name, At: ev.At, Kind: Fault, Err: fmt.Errorf(
				"gauge %q: its line carries the channels %q and %q: register a gauge for each with --channel", one.gauge.Name, one.channel, ev.Sample.Channel)})
		case one.gauge.Channel != "" && ev.Sample.Channel == "":
			out = append(out, ev)
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
