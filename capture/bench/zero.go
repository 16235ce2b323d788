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
	if ownZero(step, place.Point) {
		z = g.zeroOf(step, place)
	}
	if z != nil && z.Place.Step != "" && (z.Place.Build != place.Build || z.Place.Step != place.Step) {
		z = nil
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

// ownZero reports whether a zero that is set for a point counts for that point alone, or for what is read with the same
// of several gauges. Otherwise a zero counts for the whole step.
func ownZero(step plan.Step, point string) bool {
	d := step.At(point).Datum
	return d != nil && (len(step.Gauges) > 0 || d.AtPoint && point != DatumPoint)
}

// zeroOf is the zero that was set for a place's point, or for the gauge that reads there; nil where none was.
func (g GaugeState) zeroOf(step plan.Step, at Place) *ZeroInForce {
	for _, z := range g.Points {
		if sameZero(step, z.Place, at) {
			return z
		}
	}
	return nil
}

// sameZero reports whether one zero serves two places of a step, in whatever pass: the same point, or points that are
// read with the same of its gauges.
func sameZero(step plan.Step, a, b Place) bool {
	if a.Build != b.Build || a.Step != b.Step {
		return false
	}
	if d := step.At(b.Point).Datum; d != nil && d.AtPoint {
		return a.Point == b.Point
	}
	return step.GaugeOf(a.Point) == step.GaugeOf(b.Point)
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
