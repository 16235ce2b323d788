package line

import (
	"errors"
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
	list []*member
	// The last word of the line to its members: a gauge that joins later is told it too.
	up *Event
}

func (m *members) add(g bench.Gauge, p devices.Profile, onEvent func(Event)) {
	m.mu.Lock()
	one := newMember(g, p)
	m.list = append(m.list, one)
	var up *Event
	if m.up != nil {
		ev := one.opened(*m.up)
		up = &ev
	}
	m.mu.Unlock()
	if up != nil {
		onEvent(*up)
	}
}

func (m *members) has(name string) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.ContainsFunc(m.list, func(one *member) bool { return one.gauge.Name == name })
}

// remove takes a gauge off the line and reports how many are left.
func (m *members) remove(name string) int {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.list = slices.DeleteFunc(m.list, func(one *member) bool { return one.gauge.Name == name })
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

// opened tells every gauge that the line is open, down that it is not.
func (m *members) opened(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.up = &ev
	var out []Event
	for _, one := range m.list {
		out = append(out, one.opened(ev))
	}
	return out
}

func (m *members) down(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.up = nil
	var out []Event
	for _, one := range m.list {
		ev.Gauge = one.gauge.Name
		out = append(out, ev)
	}
	return out
}

// fault tells of a frame that cannot be read: once, not once a channel. Noise is counted for the gauge whose frame it was.
func (m *members) fault(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	var fe *devices.FrameError
	if errors.As(ev.Err, &fe) && fe.Noise {
		for _, one := range m.list {
			if one.speaksOn(fe.Channel) {
				return one.spoilt(ev)
			}
		}
		return nil
	}
	if len(m.list) == 0 {
		return nil
	}
	return []Event{m.list[0].fault(ev, ev.Err)}
}

// addressed gives a sample to the gauges whose channel it is. A key without a channel is the first gauge's.
func (m *members) addressed(ev Event) []Event {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []Event
	for _, one := range m.list {
		ev.Gauge = one.gauge.Name
		switch {
		case ev.Sample.Key != "" && ev.Sample.Channel == "":
			return []Event{ev}
		case ev.Sample.Gone:
			out = append(out, one.gone(ev, m.up)...)
		default:
			out = append(out, one.sample(ev, m.up)...)
		}
	}
	return out
}

// fault is an event that tells of a gauge's frame.
func (one *member) fault(ev Event, err error) Event {
	return Event{Gauge: one.gauge.Name, At: ev.At, Kind: Fault, Err: fmt.Errorf("gauge %q: %w", one.gauge.Name, err)}
}

// copied is a sample that outlives the decoder's buffers.
func copied(s devices.Sample) devices.Sample {
	s.Frame = append([]byte(nil), s.Frame...)
	s.Text = append([]byte(nil), s.Text...)
	return s
}
