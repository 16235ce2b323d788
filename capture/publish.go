package capture

import (
	"context"
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
)

// send gives an entry its number, seal, id and time, and publishes it.
func (l *Loop) send(ctx context.Context, e bench.Entry) {
	e.Bench, e.ID, e.At, e.Boot, e.Up, e.ClockOK = l.State().Bench, l.NewID(), l.Now().UnixMicro(), l.Boot, l.Up(), l.ClockOK()
	entry, body, err := l.chain.Number(e)
	if err != nil {
		// Only a value that cannot be JSON gets here: a fault of this program, told as such.
		l.Logger.Error().Err(err).Msg("entry cannot be written")
		t := l.tasks[0]
		l.tasks = l.tasks[1:]
		l.refuse(t.verb, t.reply, fmt.Errorf("nothing was kept: this entry (%s) cannot be written: %w", e.Kind, err))
		l.advance(ctx)
		return
	}
	l.flight = &entry
	l.unrecorded[entry.ID] = true
	go l.publish(ctx, entry, body)
}

// publish appends one entry, the same bytes under the same id, until it is safe.
func (l *Loop) publish(ctx context.Context, e bench.Entry, body []byte) {
	held := false
	for failures := 0; ; failures++ {
		// The attempt outlives ctx a moment: a service that is told to stop still makes its last entry safe.
		attempt, cancel := context.WithTimeout(context.WithoutCancel(ctx), l.Retry)
		err := l.Log.Append(attempt, e, body)
		cancel()
		if err == nil {
			if held {
				l.Publisher.Notice(bench.Notice{At: l.Now().UnixMicro(), Source: "bus", Words: "entries are being stored again"})
				l.Logger.Info().Uint64(keyN, e.N).Msg("entries are being stored again")
			}
			l.acks <- ack{e, body}
			return
		}
		if !held {
			held = true
			words := fmt.Sprintf("entry %d (%s) cannot be made safe yet: %v; it is held and stored as soon as that is mended; take no other reading", e.N, e.Kind, err)
			l.Logger.Error().Uint64(keyN, e.N).Err(err).Msg("entry not safe yet")
			l.Publisher.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: bench.ToneFault, Source: "bus", Words: words, Stands: true})
		}
		if ctx.Err() != nil {
			l.acks <- ack{}
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(line.Backoff(failures)):
		}
	}
}

// onAck moves the state on: the entry is safe.
func (l *Loop) onAck(ctx context.Context, a ack) {
	if a.entry.N == 0 {
		return
	}
	l.flight = nil
	chain, err := l.chain.Next(a.entry, a.body)
	if err != nil {
		l.say.trouble("bench", fmt.Sprintf("entry %d does not follow what this bench wrote before (%v): no further entry is made; stop the service and look at the ledger with thoud verify", a.entry.N, err))
		return
	}
	l.chain = chain
	next, err := l.Fold.Apply(l.State(), a.entry)
	if err != nil {
		l.Logger.Error().Err(err).Msg("own entry means nothing here")
	}
	l.state.Store(&next)
	l.rest()
	l.tasks[0].last = a.entry
	l.after(a.entry)
	l.advance(ctx)
}

// after does what follows an entry outside the ledger: lines to open or close, the newest values, the lockout.
func (l *Loop) after(e bench.Entry) {
	switch e.Kind {
	case bench.GaugeAdded:
		l.gauges.Remove(e.Gauge.Name)
		l.start(*e.Gauge)
	case bench.GaugeRemoved:
		l.say.calm("gauge " + e.Item)
		l.gauges.Remove(e.Item)
		l.newest.remove(e.Item)
	case bench.ZeroSet:
		l.rests.zeroed(e.Zero)
	case bench.StepEntered, bench.Acknowledged:
		l.held.cameTo(e, l.Now().UnixMicro())
		l.shared.Store(l.held.copied())
	case bench.ReadingTaken:
		l.held.lastTake = l.Now().UnixMicro()
		l.shared.Store(l.held.copied())
		l.rests.left(e.Reading)
	}
	for _, g := range l.State().Gauges {
		if !g.Removed {
			l.newest.gauge(g)
		}
	}
}
