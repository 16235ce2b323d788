package capture

import (
	"context"
	"errors"
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
)

// onEvent deals with what a line told: the gauge came or went, a frame that is no value, a key, or a value.
func (l *Loop) onEvent(ctx context.Context, ev line.Event) {
	g, ok := l.State().Gauge(ev.Gauge)
	if !ok {
		return
	}
	switch ev.Kind {
	case line.Up:
		l.calm("gauge " + g.Name)
		l.onBench[g.Name] = true
		l.decide(ctx, bench.Linked{Gauge: g.Name, Up: true, Port: ev.Port, Device: ev.Device}, nil)
	case line.Down:
		// A gauge that rests in its drawer is no trouble: it is asked for when a step wants it. One that goes away while it
		// is on the bench is, and so is one that somebody else holds.
		if l.onBench[g.Name] || errors.Is(ev.Err, line.ErrInUse) || errors.Is(ev.Err, line.ErrNoRight) {
			l.trouble("gauge "+g.Name, ev.Err.Error())
		}
		delete(l.still, g.Name)
		l.decide(ctx, bench.Linked{Gauge: g.Name, Port: ev.Port, Why: ev.Err.Error()}, nil)
	case line.Fault:
		l.noValue(g, ev, ev.Err.Error())
	case line.Sample:
		l.onSample(ctx, g, ev)
	}
}

func (l *Loop) onSample(ctx context.Context, g bench.GaugeState, ev line.Event) {
	h := bench.Heard{Gauge: g.Name, Sample: sampleOf(ev)}
	if h.Sample.Key == "" && !h.Sample.Value.Valid() {
		l.noValue(g, ev, fmt.Sprintf("gauge %q says %s: no value is taken", g.Name, ev.Sample.Status))
		return
	}
	if h.Sample.Key == "" && l.held.sweep == nil && g.Sends != bench.SendsKey {
		h.Rested = l.rested(g, h.Sample)
	}
	if verb := l.Keys[h.Sample.Key]; h.Sample.Key != "" && l.held.sweep != nil && (verb == bench.DoTake || verb == bench.DoSweep) {
		if l.catchUp(ctx); l.held.sweep == nil {
			return // it ended by itself, and said so
		}
	}
	l.decide(ctx, h, nil)
}

// rested feeds a value to the stillness of its gauge where readings settle by themselves.
func (l *Loop) rested(g bench.GaugeState, v bench.Sample) bool {
	state, results := l.state.Load(), l.results.Load()
	if l.spotOf.state != state || l.spotOf.results != results {
		l.spot = bench.SpotOf(l.scene(l.held, nil))
		l.spotOf.state, l.spotOf.results = state, results
	}
	if !l.spot.Settles(g) {
		return false
	}
	st, ok := l.still[g.Name]
	if !ok {
		st = &bench.Stillness{}
		l.still[g.Name] = st
		if g.Zero != nil {
			st.Left(g.Zero.Raw)
		}
	}
	return st.Rested(l.spot, v)
}

// sampleOf is what the rules see of a sample.
func sampleOf(ev line.Event) bench.Sample {
	s := ev.Sample
	return bench.Sample{At: ev.At.UnixMicro(), Value: s.Value, Channel: s.Channel, Key: s.Key, Text: string(s.Text),
		Status: s.Status.String(), Reversed: s.Status&devices.Reversed != 0, Frame: s.Frame}
}

// noValue tells of a frame that gives no value. One that streams says so 50 times a second where its profile is wrong or
// it is over its range: it is told now and then only, so that neither ears nor disk are filled with it.
func (l *Loop) noValue(g bench.GaugeState, ev line.Event, words string) {
	apart := 5 * time.Second
	if g.Sends == bench.SendsKey {
		apart = 500 * time.Millisecond // each is a press of its key, and whoever pressed wants to know
	}
	was := l.faults[g.Name]
	if !was.at.IsZero() && ev.At.Sub(was.at) < apart {
		was.more++
		l.faults[g.Name] = was
		return
	}
	l.faults[g.Name] = faulty{at: ev.At}
	l.Logger.Warn().Str(line.KeyGauge, g.Name).Int("untold", was.more).Msg(words)
	l.Publisher.Notice(bench.Notice{At: ev.At.UnixMicro(), Tone: bench.ToneFault, Source: "gauge " + g.Name, Words: words})
}

// faulty is when a gauge's frame without a value was last told, and how many came since.
type faulty struct {
	at   time.Time
	more int
}
