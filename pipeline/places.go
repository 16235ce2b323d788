package pipeline

import (
	"fmt"
	"math"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// positions gives where the matching points are: their angle, or their depth.
func (b *binder) positions(step plan.Step, r plan.Ref) (calc.Val, error) {
	var v calc.Val
	seen := map[float64]bool{}
	for _, pt := range step.Points {
		if _, ok := plan.Match(r.Point, pt.ID); !ok {
			continue
		}
		switch {
		case r.Kind == plan.RefAngles && pt.Angle != nil:
			v.List = append(v.List, calc.Num{X: *pt.Angle, Us: b.stopUncertainty(step, pt.ID)})
		case r.Kind == plan.RefHeights && pt.Height != nil:
			h, _ := bench.HeightAt(b.build, pt)
			v.List = append(v.List, calc.Num{X: h, Us: b.heightUncertainty(step, pt.ID)})
		case r.Kind == plan.RefDepths && pt.Depth != nil:
			// One depth a row of a bore map, however many directions are read there.
			if x := pt.Depth.Float(); !seen[x] {
				seen[x] = true
				v.List = append(v.List, calc.Num{X: x})
			}
		default:
			return v, fmt.Errorf("step %s: point %s has no place that %s could give", step.ID, pt.ID, r.Kind)
		}
	}
	return v, nil
}

// usualWheel is the division of a degree wheel that is not in the register.
const usualWheel = 1.0

// wheelUncertainty lists where the uncertainty of a degree wheel that is read by eye comes from: its division (one
// division/√12), its calibration, and the eye that looks askew. The eye errs anew at every reading.
func (b *binder) wheelUncertainty(step plan.Step, point string, division float64) []calc.Component {
	us := []calc.Component{{Name: "resolution of the wheel", U: division / math.Sqrt(12)}}
	for _, g := range b.state.Gauges {
		if g.Removed || g.Role != plan.WheelRole {
			continue
		}
		if u, dof := calibration(g); u > 0 {
			us = append(us, calc.Component{Name: "calibration of " + g.Name, U: u, Dof: dof, Shared: "gauge:" + g.Name})
		}
		break
	}
	return append(us, parallax(step, point)...)
}

// parallax is how far a wheel is misread from askew, as the step states it.
func parallax(step plan.Step, point string) []calc.Component {
	if p := step.At(point).Capture.Parallax; p.Valid() {
		return []calc.Component{{Name: "parallax, stated", U: p.Float()}}
	}
	return nil
}

// stopUncertainty is that of the named angle of a stop, at which the wheel is set by eye; nothing where no wheel is read.
func (b *binder) stopUncertainty(step plan.Step, point string) []calc.Component {
	if step.ModeOf(point) != plan.Stops {
		return nil
	}
	division := usualWheel
	for _, g := range b.state.Gauges {
		if !g.Removed && g.Role == plan.WheelRole && g.Resolution.Valid() {
			division = g.Resolution.Float()
			break
		}
	}
	return b.wheelUncertainty(step, point, division)
}

// heightUncertainty is that of a height at which the wheel is read: the gauge stands within a band of it, in which no
// place is likelier than another (half width/√3, JCGM 100, 4.3.7), and errs as its certificate says.
func (b *binder) heightUncertainty(step plan.Step, point string) []calc.Component {
	if step.ModeOf(point) != plan.Crossings {
		return nil
	}
	at := step.At(point).Capture
	us := []calc.Component{{Name: "gauge near the height", U: at.Within() / math.Sqrt(3)}}
	for _, g := range b.state.Gauges {
		if g.Removed || g.Role != at.Role {
			continue
		}
		if u, dof := calibration(g); u > 0 {
			us = append(us, calc.Component{Name: "calibration of " + g.Name, U: u, Dof: dof, Shared: "gauge:" + g.Name})
		}
		if g.Resolution.Valid() && g.Resolution.Kind() == at.Kind {
			us = append(us, calc.Component{Name: "resolution of " + g.Name, U: g.Resolution.Float() / math.Sqrt(12)})
		}
		break
	}
	return us
}
