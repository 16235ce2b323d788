package main

import (
	"context"
	"fmt"
	"sort"
	"sync"
	"time"

	"thoud/capture"
	"thoud/capture/bench"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
)

// desk is what the monitor looks at: the committed state, the newest live values, the standing troubles. It hears the
// bench and the recorder directly, so that it can tell of a bus that is down, and passes everything on to the bus.
type desk struct {
	bus  *bus.Server
	loop *capture.Loop

	mu       sync.Mutex
	state    bench.State
	results  bench.Results
	live     map[string]bench.Live
	troubles map[string]bench.Notice
	watchers map[chan monitor.Event]bool
}

func newDesk(b *bus.Server, s bench.State, r bench.Results) *desk {
	return &desk{bus: b, state: s, results: r, live: map[string]bench.Live{}, troubles: map[string]bench.Notice{}, watchers: map[chan monitor.Event]bool{}}
}

// settle tells the desk what was drained and whom to ask.
func (d *desk) settle(loop *capture.Loop, s bench.State, r bench.Results) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.loop, d.state, d.results = loop, s, r
}

// Live hears a gauge's newest value.
func (d *desk) Live(v bench.Live) {
	d.mu.Lock()
	d.live[v.Gauge] = v
	d.mu.Unlock()
	d.spread(monitor.Event{Live: &v})
	d.bus.Live(v)
}

// Notice hears a tone or a trouble. A notice of a source that no longer stands ends that trouble.
func (d *desk) Notice(n bench.Notice) {
	d.mu.Lock()
	if n.Source != "" {
		delete(d.troubles, n.Source)
		if n.Stands {
			d.troubles[n.Source] = n
		}
	}
	d.mu.Unlock()
	d.spread(monitor.Event{Notice: &n})
	d.bus.Notice(n)
}

// committed hears what came of an entry once it is in the ledger.
func (d *desk) committed(s bench.State, r bench.Results, o bench.Outcome) {
	d.mu.Lock()
	d.state, d.results = s, r
	d.mu.Unlock()
	d.spread(monitor.Event{Outcome: &o})
	d.bus.Outcome(o)
}

func (d *desk) spread(e monitor.Event) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for w := range d.watchers {
		select {
		case w <- e:
			continue
		default:
		}
		if e.Live != nil {
			continue // the next one is newer anyway
		}
		// A slow reader loses the oldest, never the newest.
		select {
		case <-w:
		default:
		}
		select {
		case w <- e:
		default:
		}
	}
}

// Watch tells of every change until ctx ends.
func (d *desk) Watch(ctx context.Context) <-chan monitor.Event {
	w := make(chan monitor.Event, 64)
	d.mu.Lock()
	d.watchers[w] = true
	d.mu.Unlock()
	context.AfterFunc(ctx, func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.watchers, w)
		close(w)
	})
	return w
}

// State is the state in the ledger.
func (d *desk) State() bench.State {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.state
}

// Results are the results in force.
func (d *desk) Results() bench.Results {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.results
}

// LiveValues are the newest values, by gauge name.
func (d *desk) LiveValues() []bench.Live {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []bench.Live
	for _, v := range d.live {
		out = append(out, v)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Gauge < out[j].Gauge })
	return out
}

// Troubles are the standing ones.
func (d *desk) Troubles() []bench.Notice {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []bench.Notice
	for _, n := range d.troubles {
		out = append(out, n)
	}
	out = append(out, overdue(d.state, time.Now())...)
	sort.Slice(out, func(i, j int) bool { return out[i].Source < out[j].Source })
	return out
}

// overdue warns of gauges whose next check is past; it never keeps them from reading.
func overdue(s bench.State, now time.Time) []bench.Notice {
	var out []bench.Notice
	for _, g := range s.Gauges {
		if g.Removed || len(g.Checks) == 0 {
			continue
		}
		due := g.Checks[len(g.Checks)-1].Due
		if due == 0 || now.UnixMicro() < due {
			continue
		}
		out = append(out, bench.Notice{At: due, Source: "check " + g.Name, Stands: true,
			Words: fmt.Sprintf("gauge %q: its check was due on %s; check it against setting standards (thoud gauge check)", g.Name, time.UnixMicro(due).Format(time.DateOnly))})
	}
	return out
}

// status gathers everything for a command.
func (d *desk) status() bench.Status {
	return bench.StatusOf(d.State(), d.Results(), d.LiveValues(), d.Troubles())
}

// screen is the desk as the monitor wants it.
type screen struct{ *desk }

// Live gives the newest values.
func (s screen) Live() []bench.Live { return s.LiveValues() }

// Do asks the bench.
func (s screen) Do(ctx context.Context, v bench.Verb) bench.Answer { return s.loop.Do(ctx, v) }
