package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// What is asked once where a degree wheel is read by eye, by the ids of the questions: in the trade these two are mixed up
// more often than anything is misread. A variant of the same name serves as well: it is chosen before the build is begun.
const (
	RunningDirection = "running-direction" // clockwise or anticlockwise, seen from the wheel
	WheelEnd         = "wheel-end"         // which end of the crankshaft carries the wheel
)

// The ways a crankshaft runs, seen from the wheel.
const (
	Clockwise     = "clockwise"
	Anticlockwise = "anticlockwise"
)

// WheelRole is the gauge that is read by eye.
const WheelRole = "wheel"

// Flank is the side of a lobe on which a height is passed, in the running direction.
type Flank string

// The lift grows on the rising flank, which comes first.
const (
	Rising  Flank = "rising"
	Falling Flank = "falling"
)

// Which way the crankshaft was turned to where the wheel is read.
const (
	TurnedForward = "forward"
	TurnedBack    = "back"
)

// UsualWithin is how near the height the gauge must stand while the wheel is read, where the step says nothing, in mm.
const UsualWithin = 0.02

// Within is how near the height the gauge must stand while the wheel is read, in mm.
func (c Capture) Within() float64 {
	if c.Band.Valid() {
		return c.Band.Float()
	}
	return UsualWithin
}

// KindOf is the kind of quantity that a reading at a point is: where a height is passed, the wheel's angle.
func (s Step) KindOf(point string) quantity.Kind {
	if s.ModeOf(point) == Crossings && point != "" {
		return quantity.Angle
	}
	return s.At(point).Capture.Kind
}

// Reader is the role of the gauge whose value is kept at a point: where a height is passed the wheel's, while the role of
// the step watches the height.
func (s Step) Reader(point string) string {
	if s.ModeOf(point) == Crossings {
		return WheelRole
	}
	return s.RoleOf(point)
}

// ByEye reports whether the running direction matters to how a point is read.
func (s Step) ByEye(point string) bool {
	row, _ := s.ModeOf(point).Row()
	pt, _ := s.Point(point)
	return row.Wheel || pt.Turned != ""
}

// Lobe names what points of a step are read on together: the id without its last two parts for heights that are passed
// ("inlet" of "inlet.low.opening"), without its last part for stops ("left.inlet" of "left.inlet.at10").
func (s Step) Lobe(point string) string {
	cut := 1
	if s.ModeOf(point) == Crossings {
		cut = 2
	}
	parts := strings.Split(point, ".")
	return strings.Join(parts[:max(0, len(parts)-cut)], ".")
}

// readEye reads what a point says for a wheel that is read by eye.
func (d *draft) readEye(t *table, p *Point, s *stepDraft) {
	if n := t.get("height"); n != nil {
		v, data, ok := d.engineOr(t, n, "height", quantity.Length)
		if ok && v.Float() <= 0 {
			t.fault(n.pos, "height is %s; want more than nothing", v)
		}
		if ok {
			p.Height, p.HeightData = &v, data
		}
	}
	p.Flank = word(t, "flank", "", Rising, Falling)
	p.Turned = word(t, "turned", "", TurnedForward, TurnedBack)
}

// byEye reports whether a wheel is read by eye in a step.
func (s *stepDraft) byEye() bool {
	return slices.ContainsFunc(s.Points, func(p Point) bool { return s.ByEye(p.ID) })
}

// checkEye holds what the points of a step say against how they are read.
func (d *draft) checkEye(s *stepDraft) {
	for i, p := range s.Points {
		at, mode := s.places[i], s.ModeOf(p.ID)
		tell := func(format string, args ...any) {
			d.fs.add(at, s.where, "point %s: "+format, append([]any{quoted(p.ID)}, args...)...)
		}
		switch {
		case mode == Stops && p.Angle == nil:
			tell("a stop wants the angle at which the wheel stands, angle = \"10 deg\"")
		case mode == Crossings && (p.Height == nil || p.Flank == ""):
			tell("a height that is passed wants height = \"1 mm\" and flank = \"rising\" or \"falling\"")
		case mode != Crossings && (p.Height != nil || p.Flank != ""):
			tell("height and flank are for mode = \"crossings\"")
		case mode == Crossings && s.At(p.ID).Capture.Kind != quantity.Length:
			tell("a height is passed by a gauge of lengths, not of %s", s.At(p.ID).Capture.Kind)
		case p.Turned != "" && (mode != Keyed || s.RoleOf(p.ID) != WheelRole):
			tell("turned is for a wheel that is typed: mode = \"keyed\", role = \"wheel\"")
		}
	}
	if s.byEye() {
		d.askedByEye(s)
	}
}

// askedByEye holds that the running direction and the wheel's end are known before a wheel is read by eye.
func (d *draft) askedByEye(s *stepDraft) {
	var missing []string
	for _, id := range []string{RunningDirection, WheelEnd} {
		a, asked := d.asks[id]
		v, variant := d.Variant(id)
		switch {
		case !asked && !variant:
			missing = append(missing, id)
			continue
		case asked:
			v.Choice = a.Choice
		}
		if id == RunningDirection && !(len(v.Choice) == 2 && slices.Contains(v.Choice, Clockwise) && slices.Contains(v.Choice, Anticlockwise)) {
			d.fs.add(s.n.pos, s.where, "%s is %s or %s, seen from the wheel; the plan has %s", id, Clockwise, Anticlockwise, strings.Join(v.Choice, ", "))
		}
	}
	if len(missing) > 0 {
		d.fs.add(s.n.pos, s.where, "a wheel is read by eye, and nothing asks %s: add it to the asks of an earlier step, as { id = %q, text = \"…\", choice = [%q, %q] }, or as a variant",
			strings.Join(missing, " and "), RunningDirection, Clockwise, Anticlockwise)
	}
	for _, id := range []string{RunningDirection, WheelEnd} {
		if a, asked := d.asks[id]; asked && d.askedIn[id] != "" && d.index(d.askedIn[id]) > d.index(s.ID) {
			d.fs.add(a.at, "", "%s is asked in step %s, after the wheel is read in step %s", quoted(id), quoted(d.askedIn[id]), quoted(s.ID))
		}
	}
}

// readParallax reads how far a wheel is misread from askew, a standard uncertainty.
func (t *table) readParallax(c *Capture) {
	c.Parallax = t.amount("parallax", quantity.Angle)
	row, _ := c.Mode.Row()
	switch {
	case c.Parallax.Valid() && c.Parallax.Float() <= 0:
		t.fault(t.n.at("parallax"), "parallax is %s; want more than nothing", c.Parallax)
	case c.Parallax.Valid() && !row.Wheel && c.Role != WheelRole:
		t.fault(t.n.at("parallax"), "parallax is for a wheel that is read by eye")
	case row.Wheel && t.n.get("parallax") == nil:
		t.fault(t.n.pos, "parallax is missing: how far the wheel is misread from askew, a standard uncertainty, as \"0.2 deg\"")
	}
}

// Turn is how the crankshaft runs, for people: "clockwise, seen from the wheel on the left end". answer gives the answers
// of a build; "" where nothing is known.
func (p *Plan) Turn(answer func(string) string) string {
	said := func(id string) string {
		if v, ok := p.Variant(id); ok {
			return v.Value
		}
		return answer(id)
	}
	way, end := said(RunningDirection), said(WheelEnd)
	if way == "" {
		return ""
	}
	if end == "" {
		return way + ", seen from the wheel"
	}
	return fmt.Sprintf("%s, seen from the wheel on the %s end", way, end)
}
