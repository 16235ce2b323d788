package pipeline

import (
	"math"
	"slices"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// uncertainty lists where the uncertainty of one reading comes from (GUM, JCGM 100, 4.3):
//
//	resolution     one count/√12, of the reading and once more of the zero, which all readings of that zero share
//	bracket        the gap between the two blades/√12
//	calibration    U/k of the certificate, or what the last check against setting standards gave
//	repeatability  of the gauge, from its last study; the zero was read with it too
//	drift          what the datum read at the closing of the pass, and how well it tells, /√3: the zero went there by a
//	               way that is not known
//	set-up         as the step states it, or as the builder's own hands were found to seat it; repeated seatings are reckoned where the mean is taken
//
// A gauge zeroed on the work errs anew at every reading; one that is set to the size of a standard, or has no zero,
// carries one common error into all its readings. A sweep is one set-up: how the gauge stood, and what it is out by, is
// the same for all its samples, and only the display's counts differ from one to the next.
func (b *binder) uncertainty(step plan.Step, t bench.Taken) []calc.Component {
	var us []calc.Component
	add := func(name string, u, dof float64, shared string) {
		if u > 0 {
			us = append(us, calc.Component{Name: name, U: u, Dof: dof, Shared: shared})
		}
	}
	one := "" // what the samples of a sweep have in common
	if t.Samples != nil {
		one = "sweep:" + t.ID
	}
	at := step.At(t.Point)
	res := b.resolution(step, t)
	if t.Goes != nil && t.Stops != nil {
		add("bracket of blades", math.Abs(t.Stops.Float()-t.Goes.Float())/math.Sqrt(12), 0, "")
	} else {
		add("resolution", res/math.Sqrt(12), 0, "")
	}
	if step.Reader(t.Point) == plan.WheelRole {
		us = append(us, parallax(step, t.Point)...)
	}
	differential := false
	if t.Zero != "" {
		add("resolution at the zero", res/math.Sqrt(12), 0, "zero:"+t.Zero)
		differential = at.Datum != nil && bench.DatumSize(b.build, at).Float() == 0
	}
	if g, ok := b.state.Gauge(t.Gauge); ok {
		shared := one
		if !differential {
			shared = "gauge:" + g.Name
		}
		u, dof := calibration(g)
		add("calibration of "+g.Name, u, dof, shared)
		if u, dof := repeatability(g); u > 0 {
			add("repeatability of "+g.Name, u, dof, "")
			if t.Zero != "" {
				add("repeatability at the zero", u, dof, "zero:repeatability:"+t.Zero)
			}
		}
	}
	if p := b.passOf(step, t); p != nil && p.Drift != nil && p.Drift.By.Kind() == t.Value.Kind() {
		add(driftName, math.Hypot(p.Drift.By.Float(), b.driftUnseen(step, t))/math.Sqrt(3), 0, "drift:"+step.ID)
	}
	if set := b.build.SetupOf(step); set.Value.Valid() && step.Seatings < 2 && set.Value.Kind() == t.Value.Kind() {
		name := "set-up repeatability, stated"
		if set.Own {
			name = "set-up repeatability, of the builder's own hands"
		}
		add(name, set.Value.Float(), set.Dof, one)
		b.setup = true
	}
	return us
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

const driftName = "drift of the zero in the pass"

// lateInSweep is the uncertainty of the second half of a sweep. The zero drifts while the shaft is turned, so that what it had
// drifted by early says little of what it has drifted by late: each half has a drift of its own. With one for all, the
// middle between an early and a late event would be free of it.
func lateInSweep(us []calc.Component) []calc.Component {
	out := slices.Clone(us)
	for i := range out {
		if out[i].Name == driftName {
			out[i].Shared += ":late"
		}
	}
	return out
}

// resolution is how finely a reading was read: a count of the display. A typed value is as fine as its dial divides to,
// where the register says so, else as the finest value that was typed of that gauge in the pass: the nought of "0 in"
// says nothing of its places.
func (b *binder) resolution(step plan.Step, t bench.Taken) float64 {
	if !t.Keyed {
		return t.Raw.Resolution()
	}
	if g, ok := b.state.Gauge(t.Gauge); ok && g.Resolution.Valid() && g.Resolution.Kind() == t.Raw.Kind() {
		return g.Resolution.Float()
	}
	finest := t.Raw.Resolution()
	if p := b.passOf(step, t); p != nil {
		for _, r := range p.Readings {
			if r.Keyed && r.Gauge == t.Gauge && r.Raw.Kind() == t.Raw.Kind() {
				finest = math.Min(finest, r.Raw.Resolution())
			}
		}
	}
	return finest
}

// passOf is the pass that a reading was taken in.
func (b *binder) passOf(step plan.Step, t bench.Taken) *bench.Pass {
	for _, p := range b.build.Step(step.ID).Passes {
		for _, r := range p.Readings {
			if r.ID == t.ID {
				return p
			}
		}
	}
	return nil
}

// angleUncertainty lists where the uncertainty of a trace's angles comes from: the angle gauge's resolution and calibration,
// and how well its zero stands where the step wants it. All but the resolution are common to the whole trace.
func (b *binder) angleUncertainty(step plan.Step, t bench.Taken) []calc.Component {
	var us []calc.Component
	at := step.At(t.Point)
	for _, g := range b.state.Gauges {
		if g.Removed || g.Role != at.Capture.Angle {
			continue
		}
		if g.Resolution.Valid() {
			us = append(us, calc.Component{Name: "resolution of the angle", U: g.Resolution.Float() / math.Sqrt(12)})
		}
		if u, dof := calibration(g); u > 0 {
			us = append(us, calc.Component{Name: "calibration of " + g.Name, U: u, Dof: dof, Shared: "gauge:" + g.Name})
		}
		break
	}
	if set := at.Capture.AngleSetup; set.Valid() {
		us = append(us, calc.Component{Name: "set-up of the angle, stated", U: set.Float(), Shared: "angle:" + step.ID})
	}
	return us
}

// calibration is the standard uncertainty a gauge brings with it: of its last check, with the error it showed as the
// half-width of a rectangle where it is not corrected, or else of its certificate.
func calibration(g bench.GaugeState) (u, dof float64) {
	for i := len(g.Checks) - 1; i >= 0; i-- {
		if c := g.Checks[i]; !c.Study {
			return math.Hypot(c.U, math.Abs(c.Error)/math.Sqrt(3)), c.Dof
		}
	}
	if !g.Calibration.Valid() {
		return 0, 0
	}
	k := g.K
	if k == 0 {
		k = 2
	}
	return g.Calibration.Float() / k, g.Dof
}

func repeatability(g bench.GaugeState) (u, dof float64) {
	for i := len(g.Checks) - 1; i >= 0; i-- {
		if c := g.Checks[i]; c.Study {
			return c.U, c.Dof
		}
	}
	return 0, 0
}
