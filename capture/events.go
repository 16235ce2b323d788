package capture

import (
	"context"
	"errors"
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/capture/plan"
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
		l.onUp(ctx, g, ev)
	case line.Down:
		l.onDown(ctx, g, ev)
	case line.Fault:
		l.noValue(g, ev, ev.Err.Error())
	case line.Sample:
		l.onSample(ctx, g, ev)
	}
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
	l.Tell.Notice(bench.Notice{At: ev.At.UnixMicro(), Tone: "fault", Source: "gauge " + g.Name, Words: words})
}

// faulty is when a gauge's frame without a value was last told, and how many came since.
type faulty struct {
	at   time.Time
	more int
}

func (l *Loop) onUp(ctx context.Context, g bench.GaugeState, ev line.Event) {
	l.calm("gauge " + g.Name)
	l.onBench[g.Name] = true
	ds := []draft{}
	if !g.Open || g.Device != ev.Device {
		ds = append(ds, func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.GaugeBack, By: "bench", Link: &bench.Link{Gauge: g.Name, Port: ev.Port, Device: ev.Device}}
		})
	}
	if why := l.zeroLost(g, ev.Device); why != "" {
		ds = append(ds, func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.ZeroLost, By: "bench", Item: g.Name, Refers: g.Zero.ID, Reason: why}
		})
	}
	if len(ds) > 0 {
		l.enqueue(ctx, task{drafts: ds})
	}
}

// zeroLost says why a zero cannot be trusted any more, "" where it can: the machine's boot and the plugging-in of the
// device must be the ones it was set under.
func (l *Loop) zeroLost(g bench.GaugeState, device string) string {
	switch z := g.Zero; {
	case z == nil:
		return ""
	case z.Boot != l.Boot:
		return "the machine was started anew since it was set"
	case z.Device != device:
		return "the gauge was unplugged or switched off since it was set"
	}
	return ""
}

func (l *Loop) onDown(ctx context.Context, g bench.GaugeState, ev line.Event) {
	// A gauge that rests in its drawer is no trouble: it is asked for when a step wants it. One that goes away while it is
	// on the bench is, and so is one that somebody else holds.
	if l.onBench[g.Name] || errors.Is(ev.Err, line.ErrInUse) || errors.Is(ev.Err, line.ErrNoRight) {
		l.trouble("gauge "+g.Name, ev.Err.Error())
	}
	delete(l.still, g.Name)
	delete(l.armed, g.Name)
	l.dropSweep(g.Name)
	if !g.Open {
		return
	}
	l.enqueue(ctx, task{drafts: []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.GaugeLost, By: "bench", Link: &bench.Link{Gauge: g.Name, Port: ev.Port}, Reason: ev.Err.Error()}
	}}})
}

func (l *Loop) onSample(ctx context.Context, g bench.GaugeState, ev line.Event) {
	if key := ev.Sample.Key; key != "" {
		l.onKey(ctx, g, key)
		return
	}
	if !ev.Sample.Value.Valid() {
		l.noValue(g, ev, fmt.Sprintf("gauge %q says %s: no value is taken", g.Name, ev.Sample.Status))
		return
	}
	if l.unitChanged(ctx, g, ev) {
		return
	}
	if l.sweeping(ctx, ev) {
		return
	}
	if g.Sends == bench.SendsKey {
		l.onDataKey(ctx, g, ev)
		return
	}
	if v, ok := l.armed[g.Name]; ok {
		delete(l.armed, g.Name)
		l.zero(ctx, v, nil, g, ev)
		return
	}
	l.maybeStill(ctx, g, ev)
}

// unitChanged tells that a zero set in one unit is lost when the gauge goes over to another.
func (l *Loop) unitChanged(ctx context.Context, g bench.GaugeState, ev line.Event) bool {
	unit := ev.Sample.Value.Unit.Code
	reversed := ev.Sample.Status&devices.Reversed != 0
	if g.Zero == nil || g.Zero.Raw.Unit.Code == unit && !reversed {
		return false
	}
	why := fmt.Sprintf("its unit key was pressed: it sends %s now, the zero was set in %s", unit, g.Zero.Raw.Unit.Code)
	if reversed {
		why = "its sense was turned round"
	}
	l.enqueue(ctx, task{tone: "ask", words: fmt.Sprintf("gauge %q lost its zero: %s", g.Name, why), drafts: []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.ZeroLost, By: "bench", Item: g.Name, Refers: g.Zero.ID, Reason: why}
	}}})
	return true
}

// onDataKey: one frame of a gauge that speaks only on its key is one press.
func (l *Loop) onDataKey(ctx context.Context, g bench.GaugeState, ev line.Event) {
	if v, ok := l.armed[g.Name]; ok {
		delete(l.armed, g.Name)
		l.zero(ctx, v, nil, g, ev)
		return
	}
	// By when the key was pressed, not by when its turn came: a press while the last entry was being made safe counts too.
	if since := ev.At.Sub(l.lastTake); l.Lockout > 0 && since < l.Lockout {
		l.Tell.Notice(bench.Notice{At: ev.At.UnixMicro(), Tone: "refused",
			Words: fmt.Sprintf("the key of %q came %d ms after a reading and is not taken: press it again", g.Name, max(since, 0).Milliseconds())})
		return
	}
	l.take(ctx, bench.Verb{Name: bench.DoTake, By: "gauge"}, nil, g, ev, plan.Press)
}

// onKey: a pedal or a key of a home-made bridge.
func (l *Loop) onKey(ctx context.Context, g bench.GaugeState, key string) {
	name, ok := l.Keys[key]
	if !ok {
		l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "refused", Words: fmt.Sprintf("the key %q of %q stands for nothing: name it in thoud.toml under [keys]", key, g.Name)})
		return
	}
	l.onVerb(ctx, bench.Verb{Name: name, By: "pedal"}, nil)
}
