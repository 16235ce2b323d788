package bench

import (
	"math"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Stillness watches one gauge where readings settle by themselves: it must have left the place of the last reading, and
// then stand within a band for a dwell.
type Stillness struct {
	from    quantity.Value // raw value of the last reading or zero
	hasFrom bool
	onZero  bool // no reading was taken since the zero was set
	away    bool
	since   int64
	low     float64
	high    float64
}

// Left starts the wait for the next place: the gauge must leave this one first.
func (s *Stillness) Left(raw quantity.Value) {
	*s = Stillness{from: raw, hasFrom: true}
}

// Zeroed starts the wait after a zero was set at this raw value.
func (s *Stillness) Zeroed(raw quantity.Value) {
	*s = Stillness{from: raw, hasFrom: true, onZero: true}
}

// Rested feeds one value and reports whether the gauge now stands still at a new place of the spot. Where the point is the
// datum itself, the rest on which the zero was set is that place, and need not be left first.
func (s *Stillness) Rested(sp Spot, g GaugeState, v Sample) bool {
	if s.onZero && !s.away && g.Zero != nil && !sp.OnDatum() && expectsDatum(sp.Point, g) && onDatum(g, v.Value, leaveTimes*stillBand(*sp.Step, v.Value)) {
		s.away, s.since, s.low, s.high = true, v.At, v.Value.Float(), v.Value.Float()
		return false
	}
	if !s.settled(v.Value, v.At, stillBand(*sp.Step, v.Value), leaveTimes*stillBand(*sp.Step, v.Value), dwell(*sp.Step)) {
		return false
	}
	s.Left(v.Value)
	return true
}

// settled feeds one value. band is the width within which it counts as still, leave how far it must go from the last
// place, both in the base unit; dwell in µs.
func (s *Stillness) settled(raw quantity.Value, at int64, band, leave float64, dwell int64) bool {
	x := raw.Float()
	if !s.hasFrom {
		s.Left(raw)
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
	return at-s.since >= dwell
}

const (
	usualDwell = int64(600_000) // µs
	bandCounts = 3.0            // counts of the gauge within which it stands still
	leaveTimes = 10.0           // bands that it must move from the last place
)

// stillBand is the width within which a gauge counts as still, in its base unit.
func stillBand(step plan.Step, raw quantity.Value) float64 {
	if step.Capture.Band.Valid() {
		return step.Capture.Band.Float()
	}
	return bandCounts * raw.Resolution()
}

func dwell(step plan.Step) int64 {
	if d := step.Capture.Dwell; d > 0 {
		return d.Microseconds()
	}
	return usualDwell
}

// Settles reports whether a gauge's value may be taken by itself at this spot once it rests.
func (sp Spot) Settles(g GaugeState) bool {
	return sp.err(false) == nil && sp.Mode == plan.Settle && (sp.Role == "" || sp.Role == g.Role)
}

// onDatum reports whether a raw value is within reach of the zero.
func onDatum(g GaugeState, raw quantity.Value, within float64) bool {
	return g.Zero != nil && math.Abs(raw.Float()-g.Zero.Raw.Float()) < within
}

// expectsDatum reports whether the point's plausible range holds the datum itself, so that a rest there may be a value.
func expectsDatum(pt plan.Point, g GaugeState) bool {
	shows := g.Zero.Shows.Float()
	return pt.Least.Valid() && pt.Most.Valid() && pt.Least.Float() < shows && shows < pt.Most.Float()
}
