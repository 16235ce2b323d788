package bench

import (
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// WithZero gives what a raw value reads against a zero: raw − zero.raw + zero.shows, exact.
func (z Zero) WithZero(raw quantity.Value) (quantity.Value, error) {
	d, err := raw.Sub(z.Raw)
	if err != nil {
		return quantity.Value{}, fmt.Errorf("against the zero of %s: %w", z.Raw, err)
	}
	v, err := d.Add(z.Shows)
	if err != nil {
		return quantity.Value{}, fmt.Errorf("against the zero of %s: %w", z.Raw, err)
	}
	return v, nil
}

// ZeroAt gives the zero that counts for a gauge's reading at a place of a step; nil where the raw value counts. A step
// with a datum must have a zero of its own, in every pass where it says so; missing says in words what to do about one
// that is not there. Elsewhere a zero that was set on the gauge itself, outside any step, counts.
//
// Where a step reads with several gauges, each zero belongs to the gauge's own datum; where every point has a zero of its
// own, to its point, and stands there through the passes.
func ZeroAt(g GaugeState, step plan.Step, place Place) (z *ZeroInForce, missing string) {
	at := step.At(place.Point)
	z = g.Zero
	if at.Datum != nil && at.Datum.AtPoint && place.Point != DatumPoint {
		z = g.zeroOf(place)
	}
	if z != nil && z.Place.Step != "" && (z.Place.Build != place.Build || z.Place.Step != place.Step) {
		z = nil
	}
	if z != nil && z.Place.Step != "" && step.GaugeOf(z.Place.Point) != step.GaugeOf(place.Point) {
		z = nil // set on the datum of another of the step's gauges
	}
	d := at.Datum
	switch {
	case d == nil:
		return z, ""
	case z == nil && d.AtPoint:
		return nil, fmt.Sprintf("gauge %q has no zero for %s: %s Then zero.", g.Name, place.Point, d.Do)
	case z == nil && g.Lost != "":
		return nil, fmt.Sprintf("gauge %q lost its zero (%s): %s Then zero.", g.Name, g.Lost, d.Do)
	case z == nil:
		return nil, fmt.Sprintf("gauge %q has no zero for this step: %s Then zero.", g.Name, d.Do)
	case d.Each && z.Place.Step != "" && z.Place.Pass != place.Pass:
		return nil, fmt.Sprintf("gauge %q: this step asks for a new zero in every pass: %s Then zero.", g.Name, d.Do)
	}
	return z, ""
}

// zeroOf is the zero that belongs to a place's point; nil where it has none.
func (g GaugeState) zeroOf(at Place) *ZeroInForce {
	for _, z := range g.Points {
		if samePoint(z.Place, at) {
			return z
		}
	}
	return nil
}

// samePoint reports whether two places are one point of one step, in whatever pass.
func samePoint(a, b Place) bool {
	return a.Build == b.Build && a.Step == b.Step && a.Point == b.Point
}

// NextPass is the number of the pass that the next reading of a step belongs to.
func (s *StepState) NextPass() int {
	if p := s.Last(); p != nil && p.Status != PassIsClosed {
		return p.Number
	}
	return len(s.Passes) + 1
}

// DatumSize is what a gauge shall read on a step's datum in this build: its own engine data where the plan says so.
func DatumSize(b *Build, step plan.Step) quantity.Value {
	if step.Datum == nil {
		return quantity.Value{}
	}
	if d, ok := b.Datum(step.Datum.SizeData); ok && d.Value.Valid() {
		return d.Value
	}
	return step.Datum.Size
}
