package pipeline

import (
	"math"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// uncertainty lists where the uncertainty of one reading comes from (GUM, JCGM 100, 4.3):
//
//	resolution     one count/√12, of the reading and once more of the zero, which all readings of that zero share
//	bracket        the gap between the two blades/√12
//	calibration    U/k of the certificate, or what the last check against setting standards gave
//	repeatability  of the gauge, from its last study; the zero was read with it too
//	drift          what the datum read at the closing of the pass, and how well it tells: see drift
//	set-up         as the step states it, or as the builder's own hands were found to seat it; repeated seatings are reckoned where the mean is taken
//
// A gauge zeroed on the work errs anew at every reading: its certificate says nothing of two places of its travel. One that is
// set to the size of a standard, or has no zero, carries one common error into all its readings, which changes along its scale:
// see calibrated. A sweep is one set-up: how the gauge stood, and what it is out by, is
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
		switch u, dof := calibration(g); {
		case u == 0:
		case differential:
			add("calibration of "+g.Name, u, dof, one)
		case t.Samples != nil, t.Value.Kind() == quantity.Angle: // a wheel has no scale that could be too long: round the circle it is whole
			add("calibration of "+g.Name, u, dof, "gauge:"+g.Name)
		default:
			us = append(us, b.calibrated(step, t, g, u, dof)...)
		}
		if u, dof := repeatability(g); u > 0 {
			add("repeatability of "+g.Name, u, dof, "")
			if t.Zero != "" {
				add("repeatability at the zero", u, dof, "zero:repeatability:"+t.Zero)
			}
		}
	}
	if t.Samples == nil {
		us = append(us, b.drift(step, t)...)
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

// calibrated is a gauge's calibration where it is one error for all its readings. Of two like readings it is the same, and falls
// out of their difference; of two that lie apart it is not quite, as a scale that is too long errs more the further out it is read.
// So it stands as two errors, which together are always u and make that of a difference
//
//	u(x₁ − x₂) = u·|x₁ − x₂|/scale      for readings near each other, a little less for others
//
// cos θ of one and sin θ of the other, tan θ/2 = x/(2·scale); scale is the gauge's travel, or the greatest reading of the pass where
// the register says nothing of it (JCGM 100, F.1.2.3 and F.2.4.5: a common error, and what it depends on).
func (b *binder) calibrated(step plan.Step, t bench.Taken, g bench.GaugeState, u, dof float64) []calc.Component {
	x := t.Value.Float()
	scale := math.Abs(x)
	if g.Travel.Valid() && g.Travel.Kind() == t.Value.Kind() {
		scale = math.Max(scale, g.Travel.Float())
	} else if p := b.passOf(step, t); p != nil {
		for _, r := range p.Readings {
			if r.Gauge == g.Name && r.Value.Kind() == t.Value.Kind() {
				scale = math.Max(scale, math.Abs(r.Value.Float()))
			}
		}
	}
	name, key := "calibration of "+g.Name, g.Name
	if scale == 0 {
		return []calc.Component{{Name: name, U: u, Dof: dof, Shared: "gauge:" + key}}
	}
	// Every product is rounded by itself: another processor, which may fuse them, must come to the same request.
	q := x / (2 * scale)
	qq := float64(q * q)
	cos, sin := (1-qq)/(1+qq), 2*q/(1+qq)
	c2, s2 := float64(cos*cos), float64(sin*sin)
	dof *= float64(c2*c2) + float64(s2*s2) // so that both together count for as many as the one did
	return []calc.Component{
		{Name: name, U: u * cos, Dof: dof, Shared: "gauge:" + key},
		{Name: name + " along its scale", U: u * sin, Dof: dof, Shared: "gauge along its scale:" + key},
	}
}
