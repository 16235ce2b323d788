package demo

import (
	"fmt"
	"math"
	"math/rand/v2"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Errs draws how a gauge and the hand that holds it err: what the register and the plan state, and nothing else.
//
//	calibration   normal, U/k of the certificate: another one at every place where the gauge was zeroed on the work; one
//	              error for the whole step where it was set to a standard's size or has no zero
//	set-up        normal, as the plan's step states it, anew at every seating; a sweep is one seating
//	parallax      normal, as the step states it, anew whenever a wheel is read by eye
//	drift         a straight walk of the zero over a pass
//
// Resolution is the display's own matter.
type Errs struct {
	calibration float64
	chance      *rand.Rand
	common      map[string]float64 // by step, or step and point
}

// NewErrs gives the errors of a gauge.
func NewErrs(s Spec, chance *rand.Rand) (*Errs, error) {
	u, err := quantity.Parse(s.Calibration)
	if err != nil {
		return nil, fmt.Errorf("demo: gauge %s: %w", s.Name, err)
	}
	return &Errs{calibration: u.Float() / 2, chance: chance, common: map[string]float64{}}, nil
}

// seatingScatter is how well a part comes back to its place where the plan states nothing and asks for several
// seatings, in mm.
const seatingScatter = 0.0015

// At draws the error of one reading of a step. care is the hand's: 1 errs as much as the plan states.
func (e *Errs) At(step plan.Step, point string, care float64) float64 {
	setup := step.Setup.Float()
	if !step.Setup.Valid() || step.Setup.Kind() != step.KindOf(point) {
		setup = 0
		if step.Seatings > 1 {
			setup = seatingScatter
		}
	}
	x := care * setup * e.chance.NormFloat64()
	if p := step.At(point).Capture.Parallax; p.Valid() && step.Reader(point) == plan.WheelRole {
		return x + care*p.Float()*e.chance.NormFloat64() + e.Common(step) // the zero is not the wheel's
	}
	if d := step.At(point).Datum; d != nil && d.Size.Float() == 0 {
		return x + e.outBy(step.ID+"/"+point)
	}
	return x + e.Common(step)
}

// Common is what the gauge is out by for the whole of a step.
func (e *Errs) Common(step plan.Step) float64 { return e.outBy(step.ID) }

// outBy is what the gauge is out by at a place: the same whenever it stands there.
func (e *Errs) outBy(place string) float64 {
	if _, ok := e.common[place]; !ok {
		e.common[place] = e.calibration * e.chance.NormFloat64()
	}
	return e.common[place]
}

// Bracket gives the two blades of a feeler set, count apart, between which a gap lies. The blades err as calibrated.
func (e *Errs) Bracket(count quantity.Value, gap float64) (goes, stops quantity.Value) {
	n := int64(math.Floor((gap + e.calibration*e.chance.NormFloat64()) / count.Float()))
	goes, stops = count, count
	goes.N, stops.N = max(n, 1)*count.N, (max(n, 1)+1)*count.N
	return goes, stops
}
