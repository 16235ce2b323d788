package bench

import (
	"fmt"
	"math"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// TurnWords is how to turn where a wheel is read by eye: the running direction as it was answered for this build; "" where
// it does not matter or is not known.
func TurnWords(b *Build, step plan.Step, point string) string {
	if !step.ByEye(point) {
		return ""
	}
	turn := b.Plan.Turn(func(id string) string { return b.Answers[id].Choice })
	if turn == "" {
		return ""
	}
	if pt, _ := step.Point(point); pt.Turned == plan.TurnedBack {
		return "Turn back, against the running direction (it runs " + turn + ")."
	}
	return "Turn " + turn + "."
}

// HandWords is what the hand does now where a wheel is read by eye: the running direction, and how far it still is.
func HandWords(sc Scene, sp Spot) string {
	if sp.Build == nil || sp.Step == nil || sp.Place.Point == "" {
		return ""
	}
	words := []string{TurnWords(sp.Build, *sp.Step, sp.Place.Point)}
	if sc.Coming != nil && sc.Coming.Place == sp.Place {
		words = append(words, sc.Coming.Says())
	}
	if sp.Mode == plan.Stops && behindLast(sp) {
		words = append(words, "This stop lies before the last one: back a quarter turn first, then up to it.")
	}
	return strings.TrimSpace(strings.Join(words, " "))
}

// behindLast reports whether the stop at hand lies before the one that was read last, of those that are read on together.
func behindLast(sp Spot) bool {
	last, ok := lastOfLobe(*sp.Step, sp.State.Pass(sp.Place.Pass), sp.Place.Point, math.MaxUint64)
	if !ok || sp.Point.Angle == nil {
		return false
	}
	pt, _ := sp.Step.Point(last.Point)
	return pt.Angle != nil && *pt.Angle > *sp.Point.Angle
}

// lastOfLobe is the reading taken last, before an entry, among the points that are read on together with one.
func lastOfLobe(step plan.Step, p *Pass, point string, before uint64) (Taken, bool) {
	if p == nil {
		return Taken{}, false
	}
	lobe := step.Lobe(point)
	for i := len(p.Readings) - 1; i >= 0; i-- {
		r := p.Readings[i]
		if !r.Withdrawn && r.N < before && r.Point != point && r.Point != DatumPoint && step.Lobe(r.Point) == lobe {
			return r, true
		}
	}
	return Taken{}, false
}

// AgainstStops asks about a stop that lies before the one read last: it may have been come to against the running
// direction. nil where nothing is odd.
func AgainstStops(step plan.Step, p *Pass, r Taken) *Question {
	if step.ModeOf(r.Point) != plan.Stops {
		return nil
	}
	pt, _ := step.Point(r.Point)
	last, ok := lastOfLobe(step, p, r.Point, r.N)
	before, _ := step.Point(last.Point)
	if !ok || pt.Angle == nil || before.Angle == nil || *pt.Angle >= *before.Angle {
		return nil
	}
	return &Question{Guard: guardDirection, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("%g deg was read after %g deg. Did you go back a quarter turn and come up to it in the running direction? If not, read again",
			*pt.Angle, *before.Angle)}
}

// checkWheel refuses what a wheel cannot read where it was come to in the running direction, in which it counts up.
func checkWheel(sp Spot, v quantity.Value) error {
	p := sp.State.Pass(sp.Place.Pass)
	if p == nil || v.Kind() != quantity.Angle {
		return nil
	}
	for _, o := range sp.Step.Points {
		r, ok := p.Standing(o.ID, 1)
		if !ok || o.ID == sp.Place.Point || r.Value.Kind() != quantity.Angle {
			continue
		}
		on := math.Remainder(v.Float()-r.Value.Float(), 360) // how far it lies on from there
		if err := wheelOrder(sp, o, r.Value, v, on); err != nil {
			return err
		}
	}
	return nil
}

func wheelOrder(sp Spot, o plan.Point, there, here quantity.Value, on float64) error {
	pt := sp.Point
	switch {
	case pt.Turned != "" && o.Turned != "" && pt.Turned != o.Turned && sp.Step.CylinderOf(o.ID) == sp.Step.CylinderOf(pt.ID):
		if pt.Turned == plan.TurnedForward {
			on = -on
		}
		if on < 0 {
			return fmt.Errorf("the stop turned %s reads %s and the one turned %s reads %s: that is the wrong side of the top, since the wheel counts up in the running direction; turn onto the stop the other way, or read the wheel again (thoud retake %s for the first)",
				pt.Turned, here, o.Turned, there, o.ID)
		}
	case pt.Flank == "" || o.Flank != pt.Flank || sp.Step.Lobe(o.ID) != sp.Step.Lobe(pt.ID):
	default:
		h, ok1 := HeightAt(sp.Build, pt)
		was, ok2 := HeightAt(sp.Build, o)
		later := h > was // on the rising flank the greater height comes later
		if pt.Flank == plan.Falling {
			later = h < was
		}
		if ok1 && ok2 && h != was && later != (on > 0) {
			return fmt.Errorf("the wheel reads %s here and read %s at %s: in the running direction it counts up, so one of the two was read against it or misread; back a quarter turn, up to the height again, and read the wheel",
				here, there, pointName(*sp.Step, Place{Point: o.ID}))
		}
	}
	return nil
}
