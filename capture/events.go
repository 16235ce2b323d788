package capture

import (
	"context"
	"errors"
	"fmt"

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
		l.say.calm("gauge " + g.Name)
		l.onBench[g.Name] = true
		l.decide(ctx, bench.Linked{Gauge: g.Name, Up: true, Port: ev.Port, Device: ev.Device}, nil)
	case line.Down:
		// A gauge that rests in its drawer is no trouble: it is asked for when a step wants it. One that goes away while it
		// is on the bench is, and so is one that somebody else holds.
		if l.onBench[g.Name] || errors.Is(ev.Err, line.ErrInUse) || errors.Is(ev.Err, line.ErrNoRight) {
			l.say.trouble("gauge "+g.Name, ev.Err.Error())
		}
		l.rests.forget(g.Name)
		l.decide(ctx, bench.Linked{Gauge: g.Name, Port: ev.Port, Why: ev.Err.Error()}, nil)
	case line.Fault:
		l.say.noValue(g, ev.At, ev.Err.Error())
	case line.Sample:
		l.onSample(ctx, g, ev)
	case line.Unconfirmed:
		if g.Sends == bench.SendsKey {
			l.say.notice(bench.ToneRefused, fmt.Sprintf("gauge %q: press its key once more: a value through a bridge counts when two frames agree", g.Name))
		}
	case line.Noise: // counted on the board
	}
}

func (l *Loop) onSample(ctx context.Context, g bench.GaugeState, ev line.Event) {
	h := bench.Heard{Gauge: g.Name, Sample: sampleOf(ev)}
	if h.Sample.Key == "" && !h.Sample.Value.Valid() {
		l.say.noValue(g, ev.At, fmt.Sprintf("gauge %q says %s: no value is taken", g.Name, ev.Sample.Status))
		return
	}
	if h.Sample.Key == "" && l.held.sweep == nil && g.Sends != bench.SendsKey {
		h.Rested = l.rests.rested(l.scene(l.held, nil), l.state.Load(), l.results.Load(), g, h.Sample)
	}
	if verb := l.Keys[h.Sample.Key]; h.Sample.Key != "" && l.held.sweep != nil && (verb == bench.DoTake || verb == bench.DoSweep) {
		if l.catchUp(ctx); l.held.sweep == nil {
			return // it ended by itself, and said so
		}
	}
	if h.Sample.Key == "" {
		words := l.held.comings.feed(l.scene(l.held, nil), l.state.Load(), l.results.Load(), g, h.Sample)
		if words != "" {
			l.say.notice(bench.ToneRefused, words)
		}
		if said := l.held.comings.says(g.Name); l.newest.hand(g.Name, said) || words != "" {
			l.shared.Store(l.held.copied())
		}
	}
	l.decide(ctx, h, nil)
}

// sampleOf is what the rules see of a sample.
func sampleOf(ev line.Event) bench.Sample {
	s := ev.Sample
	return bench.Sample{At: ev.At.UnixMicro(), Value: s.Value, Channel: s.Channel, Key: s.Key, Text: string(s.Text),
		Status: s.Status.String(), Unconfirmed: s.Unconfirmed, Reversed: s.Status&devices.Reversed != 0, Frame: s.Frame}
}
