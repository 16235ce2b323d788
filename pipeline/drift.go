package pipeline

import (
	"fmt"
	"math"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// walkSteps is in how many steps the zero's walk over a sweep is reckoned.
const walkSteps = 16

const driftName = "drift of the zero in the pass"

// walked is how far the zero of a pass went, D as the datum read it at the end and s as well as that tells; false where it was not
// read again, or not by a gauge of that kind.
func (b *binder) walked(step plan.Step, t bench.Taken) (d, s float64, key string, ok bool) {
	p := b.passOf(step, t)
	if p == nil || p.Drift == nil || p.Drift.By.Kind() != t.Value.Kind() {
		return 0, 0, "", false
	}
	return math.Abs(p.Drift.By.Float()), b.driftUnseen(step, t), fmt.Sprintf("drift:%s/%d", step.ID, p.Number), true
}

// drift is what the zero went by when a single reading was taken. The way from 0 to D is not known, as between two readings there
// is other work: a rectangle from 0 to D (JCGM 100, 4.3.7). Its middle is in every reading of the pass alike and falls out of the
// difference of two; what a reading is off the middle by, it has for itself.
//
//	common D/2      own D/√12      both together D/√3
//
// D with what the closing cannot tell, √(D² + s²).
func (b *binder) drift(step plan.Step, t bench.Taken) []calc.Component {
	d, s, key, ok := b.walked(step, t)
	if d = math.Hypot(d, s); !ok || d == 0 {
		return nil
	}
	return []calc.Component{{Name: driftName, U: d / 2, Shared: key}, {Name: driftName, U: d / math.Sqrt(12)}}
}

// swept gives the samples of a sweep with their uncertainty. The shaft is turned in one go, and warmth walks evenly over such a
// time: the zero went straight from where it was at the first sample to where it was at the last. How much of D came within the
// sweep is not known, a rectangle from 0 to D; of what the closing cannot tell all of it may have.
//
//	u = share of the sweep · √(D²/3 + s²), one error for all samples
//
// The share goes by sixteenths, so that neighbours need no lists of their own.
func (b *binder) swept(step plan.Step, t bench.Taken, unit quantity.Unit) []calc.Num {
	us := b.uncertainty(step, t)
	d, s, key, ok := b.walked(step, t)
	d = math.Hypot(d/math.Sqrt(3), s)
	all := len(t.Samples.Value)
	out, now, last := make([]calc.Num, 0, all), us, 0
	for i, n := range t.Samples.Value {
		if share := (i*walkSteps + all) / all; ok && d > 0 && share != last {
			last = share
			now = append(us[:len(us):len(us)], calc.Component{Name: driftName, U: float64(share) / walkSteps * d, Shared: key})
		}
		out = append(out, calc.Num{X: quantity.Value{N: n, Places: t.Samples.Places, Unit: unit}.Float(), Us: now})
	}
	return out
}

// driftUnseen is how well the closing of a pass tells what the zero drifted by, as a standard uncertainty: the datum was read
// when the zero was set and once more at the end, each to a count of the display and as well as the gauge repeats. A datum
// that shows nought at the end has drifted by no more than that, not by nothing.
func (b *binder) driftUnseen(step plan.Step, t bench.Taken) float64 {
	if t.Zero == "" || step.GaugeOf(t.Point) != "" || step.Datum == nil || step.Datum.AtPoint {
		return 0 // not the gauge, or not the zero, that the pass is closed with
	}
	g, _ := b.state.Gauge(t.Gauge)
	again, _ := repeatability(g)
	return math.Sqrt2 * math.Hypot(b.resolution(step, t)/math.Sqrt(12), again)
}
