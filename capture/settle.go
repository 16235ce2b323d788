package capture

import (
	"context"
	"math"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/capture/plan"
)

// stillness watches one gauge in settle mode: it must have left the place of the last reading, and then stand within a
// band for a dwell.
type stillness struct {
	from    quantity.Value // raw value of the last reading or zero
	hasFrom bool
	away    bool
	since   time.Time
	low     float64
	high    float64
}

// left starts the wait for the next place: the gauge must leave this one first.
func (s *stillness) left(raw quantity.Value) {
	*s = stillness{from: raw, hasFrom: true}
}

// settled feeds one value and reports whether the gauge now stands still at a new place. band is the width within which
// it counts as still, leave how far it must go from the last place, both in the base unit.
func (s *stillness) settled(raw quantity.Value, at time.Time, band, leave float64, dwell time.Duration) bool {
	x := raw.Float()
	if !s.hasFrom {
		s.left(raw)
		return false
	}
	if !s.away {
		if math.Abs(x-s.from.Float()) < leave {
			return false
		}
		s.away, s.since, s.low, s.high = true, at, x, x
		return false
	}
	s.low, s.high = min(s.low, x), max(s.high, x)
	if s.high-s.low > band {
		s.since, s.low, s.high = at, x, x
		return false
	}
	return at.Sub(s.since) >= dwell
}

const (
	usualDwell = 600 * time.Millisecond
	bandCounts = 3.0  // counts of the gauge within which it stands still
	leaveTimes = 10.0 // bands that it must move from the last place
)

// maybeStill takes a reading by itself where the step settles and the gauge has come to rest at a new place.
func (l *Loop) maybeStill(ctx context.Context, g bench.GaugeState, ev line.Event) {
	sp, err := l.nextSpot()
	if err != nil || sp.mode() != plan.Settle || sp.role() != "" && sp.role() != g.Role {
		return
	}
	st, ok := l.still[g.Name]
	if !ok {
		st = &stillness{}
		l.still[g.Name] = st
		if g.Zero != nil {
			st.left(g.Zero.Raw)
		}
	}
	raw := ev.Sample.Value
	band := sp.step.Capture.Band.Float()
	if !sp.step.Capture.Band.Valid() {
		band = bandCounts * raw.Resolution()
	}
	dwell := sp.step.Capture.Dwell
	if dwell == 0 {
		dwell = usualDwell
	}
	if !st.settled(raw, ev.At, band, leaveTimes*band, dwell) {
		return
	}
	st.left(raw)
	if onDatum(g, raw, leaveTimes*band) && sp.place.Point != bench.DatumPoint && !expectsDatum(sp.point(), g) {
		l.seen(ctx, sp, g, ev)
		return
	}
	l.take(ctx, bench.Verb{Name: bench.DoTake, By: "settle"}, nil, g, ev, plan.Settle)
}

// onDatum reports whether a raw value is within reach of the zero.
func onDatum(g bench.GaugeState, raw quantity.Value, within float64) bool {
	return g.Zero != nil && math.Abs(raw.Float()-g.Zero.Raw.Float()) < within
}

// expectsDatum reports whether the point's plausible range holds the datum itself, so that a rest there may be a value.
func expectsDatum(pt plan.Point, g bench.GaugeState) bool {
	shows := g.Zero.Shows.Float()
	return pt.Least.Valid() && pt.Most.Valid() && pt.Least.Float() < shows && shows < pt.Most.Float()
}

// seen keeps a rest on the datum as a free check of the zero; it is no reading of a point.
func (l *Loop) seen(ctx context.Context, sp spot, g bench.GaugeState, ev line.Event) {
	place := sp.place
	place.Point, place.Seating = bench.DatumPoint, 1
	at := sp
	at.place = place
	r, err := l.reading(at, g, ev, plan.Settle)
	if err != nil {
		return
	}
	l.enqueue(ctx, task{tone: "datum", words: "rest on the datum: it reads " + r.Value.String(), drafts: []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.DatumSeen, Place: place, By: "settle", Reading: r}
	}}})
}
