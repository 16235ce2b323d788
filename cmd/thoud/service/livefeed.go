package service

import (
	"context"
	"fmt"
	"sort"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture"
	"thoud/capture/bench"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
)

// liveFeed is what the monitor and the status look at: the committed state, the newest live values, the standing troubles.
// It hears the bench and the recorder directly, so that it can tell of a bus that is down, and passes everything on to the bus.
//
// Commands ask it for the status and the monitor watches it. The newest values are not kept here a second time: the bench
// keeps them, and is asked.
type liveFeed struct {
	bus  *bus.Server
	loop *capture.Loop

	metrics *metrics

	mu       sync.Mutex
	state    bench.State
	results  bench.Results
	troubles map[string]bench.Notice
	watchers monitor.Watchers

	// whole reads a step's results with what was asked of the methods: pictures are drawn from it. What is in memory is
	// without, but for the step in work, once somebody looks.
	whole   func(ctx context.Context, job, step string) ([]bench.Result, error)
	wholeOf bench.Place
	wholes  bench.Results
	log     zerolog.Logger
}

var _ monitor.Bench = (*liveFeed)(nil)

func newLiveFeed(b *bus.Server, s bench.State, r bench.Results) *liveFeed {
	return &liveFeed{bus: b, metrics: newMetrics(), state: s, results: r, troubles: map[string]bench.Notice{}}
}

// begin tells the feed what was drained and whom to ask.
func (d *liveFeed) begin(loop *capture.Loop, s bench.State, r bench.Results) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.loop, d.state, d.results = loop, s, r
}

// onLive passes a gauge's newest value on.
func (d *liveFeed) onLive(v bench.Live) {
	d.metrics.onLive(v)
	d.watchers.Tell(monitor.Event{Live: &v})
	d.bus.Live(v)
}

// onNotice passes a tone or a trouble on. A notice of a source that no longer stands ends that trouble.
func (d *liveFeed) onNotice(n bench.Notice) {
	d.metrics.onNotice(n)
	d.mu.Lock()
	if n.Source != "" {
		delete(d.troubles, n.Source)
		if n.Stands {
			d.troubles[n.Source] = n
		}
	}
	d.mu.Unlock()
	d.watchers.Tell(monitor.Event{Notice: &n})
	d.bus.Notice(n)
}

// onOutcome passes on what came of an entry once it is in the ledger.
func (d *liveFeed) onOutcome(s bench.State, r bench.Results, o bench.Outcome) {
	d.mu.Lock()
	d.state, d.results = s, r
	for _, res := range o.Results {
		if res.Build == d.wholeOf.Build && res.Step == d.wholeOf.Step {
			d.wholes = d.wholes.With(res)
		}
	}
	d.mu.Unlock()
	d.watchers.Tell(monitor.Event{Outcome: &o})
	d.bus.Outcome(o)
}

// Watch tells of every change until ctx ends.
func (d *liveFeed) Watch(ctx context.Context) <-chan monitor.Event { return d.watchers.Watch(ctx) }

// State is the state in the ledger.
func (d *liveFeed) State() bench.State {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.state
}

// Results are the results in force; those of the step in work with what was asked of the methods.
func (d *liveFeed) Results() bench.Results {
	d.mu.Lock()
	defer d.mu.Unlock()
	at := bench.Place{Build: d.state.Place.Build, Step: d.state.Place.Step}
	if at != d.wholeOf && d.whole != nil {
		d.wholeOf, d.wholes = at, bench.Results{}
		if at.Step != "" {
			all, err := d.whole(context.Background(), at.Build, at.Step)
			if err != nil {
				d.log.Warn().Err(err).Msg("results of the step in work not read; its pictures are missing")
			}
			d.wholes = d.wholes.With(all...)
		}
	}
	return d.results.With(d.wholes.All()...)
}

// Live are the newest values, by gauge name: the bench keeps them.
func (d *liveFeed) Live() []bench.Live {
	d.mu.Lock()
	loop := d.loop
	d.mu.Unlock()
	if loop == nil {
		return nil // it has not begun
	}
	return loop.Live()
}

// Troubles are the standing ones.
func (d *liveFeed) Troubles() []bench.Notice {
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

// Scene is what the rules need to know, as far as the ledger has it.
func (d *liveFeed) Scene() bench.Scene {
	sc := d.loop.Scene()
	d.mu.Lock()
	defer d.mu.Unlock()
	sc.State, sc.Results, sc.Committed = d.state, d.results, d.state.N
	return sc
}

// status gathers everything for a command.
func (d *liveFeed) status() bench.Status { return bench.StatusOf(d.Scene(), d.Live(), d.Troubles()) }

// Do asks the bench; the answer comes once what was done can be seen.
func (d *liveFeed) Do(ctx context.Context, v bench.Verb) bench.Answer {
	a := d.loop.Do(ctx, v)
	if a.OK && a.N > 0 {
		// Who is told that it is done shall find it with the next command: wait for the ledger, but not for one that cannot be
		// written. The entry is safe already.
		waitFor(ctx, statusPatience, func() bool { return d.State().N >= a.N })
	}
	return a
}

// publisher is the feed as the bench publishes to it.
type publisher struct{ feed *liveFeed }

// Live publishes a gauge's newest value.
func (p publisher) Live(v bench.Live) { p.feed.onLive(v) }

// Notice publishes a tone or a trouble.
func (p publisher) Notice(n bench.Notice) { p.feed.onNotice(n) }
