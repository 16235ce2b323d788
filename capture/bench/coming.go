package bench

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Coming watches how the gauge comes to a height at which a wheel is read by eye. The drive of a camshaft has lost motion:
// a height that is come to against the running direction reads degrees too late or too early, and nothing in the figure
// shows it. So what is followed is the way of the gauge: it must come from well before the height, and must not turn round.
//
// y is the lift on the rising flank and its negative on the falling one: it grows in the running direction on both.
type Coming struct {
	Place  Place
	Zero   string // id of the zero it is watched against
	zero   Zero
	height float64 // as y
	within float64
	flank  plan.Flank
	unit   quantity.Unit
	places int

	seen  bool
	y     float64
	armed bool    // it was well before the height, and has not been past it since
	past  bool    // it came from before and went past
	peak  float64 // the furthest since it was well before
}

// backRoom is how far before the height the gauge must come from, in mm of lift: more than the lost motion of any drive is
// worth, and far less than a quarter turn of the crankshaft.
const backRoom = 0.25

// ComingTo begins to watch at a spot; nil where no height is passed there, or where no gauge that sends watches it.
func ComingTo(sp Spot) *Coming {
	if sp.Mode != plan.Crossings || sp.Gauge == nil || !sp.Gauge.Open || sp.Gauge.Known == KnownKeyed || sp.Zero == nil {
		return nil
	}
	h, ok := HeightAt(sp.Build, sp.Point)
	if !ok {
		return nil
	}
	c := &Coming{Place: sp.Place, Zero: sp.Zero.ID, zero: sp.Zero.Zero, height: h, within: sp.Step.Capture.Within(), flank: sp.Point.Flank}
	c.height = c.along(h)
	return c
}

// HeightAt is the height of a point in this build, in mm: engine data may have been changed for it.
func HeightAt(b *Build, pt plan.Point) (float64, bool) {
	if d, ok := b.Datum(pt.HeightData); ok && d.Value.Valid() {
		return d.Value.Float(), true
	}
	if pt.Height == nil {
		return 0, false
	}
	return pt.Height.Float(), true
}

// along is what grows in the running direction.
func (c *Coming) along(x float64) float64 {
	if c.flank == plan.Falling {
		return -x
	}
	return x
}

// Feed takes a value as the gauge sends it. It gives the words to say at the moment where it goes past the height.
func (c *Coming) Feed(raw quantity.Value) (words string) {
	if raw.Kind() != quantity.Length || raw.Unit.Code != c.zero.Raw.Unit.Code {
		return ""
	}
	v, err := c.zero.WithZero(raw)
	if err != nil {
		return ""
	}
	y := c.along(v.Float())
	c.seen, c.y, c.unit, c.places = true, y, v.Unit, v.Places
	switch {
	case y <= c.height-backRoom:
		c.armed, c.past, c.peak = true, false, y
	case !c.armed:
	case y > c.height+c.within:
		c.armed, c.past = false, true
		return pastWords
	default:
		c.peak = max(c.peak, y)
	}
	return ""
}

const pastWords = "past it: back a quarter turn, and up to it again in the running direction"

// Err says why the wheel may not be read now, nil where it may.
func (c *Coming) Err() error {
	if c == nil || !c.seen {
		return nil
	}
	off := math.Abs(c.height - c.y)
	switch {
	case c.past:
		return fmt.Errorf("the gauge went past the height and shows %s: back a quarter turn, and up to it again in the running direction", c.words(c.y))
	case c.armed && c.y < c.height-c.within:
		return fmt.Errorf("the gauge shows %s, %s short of the height: turn on in the running direction, then read the wheel", c.words(c.y), c.span(off))
	case c.armed && c.peak-c.y > c.within/2:
		return fmt.Errorf("the crankshaft was turned back onto the height: its drive has lost motion, so the wheel says nothing there; back a quarter turn, and up to it in the running direction")
	case c.armed:
		return nil
	}
	return fmt.Errorf("the gauge shows %s, and has not come from before the height: read so it would be against the running direction; turn on in it until the gauge passes the height", c.words(c.y))
}

// Says is what the hand does now: how far it still is, that the wheel may be read, or that it went past. "" before the
// first value.
func (c *Coming) Says() string {
	if c == nil || !c.seen {
		return ""
	}
	switch {
	case c.past:
		return "Past it: back a quarter turn."
	case c.Err() == nil:
		return "Stop. Type the wheel."
	case c.armed && c.y < c.height-c.within:
		return c.span(c.height-c.y) + " to go."
	case c.armed:
		return "Turned back: back a quarter turn."
	}
	return "Turn on."
}

// words writes a place on the way as the gauge shows it.
func (c *Coming) words(y float64) string { return c.value(c.along(y)) }

func (c *Coming) span(mm float64) string { return c.value(math.Abs(mm)) }

func (c *Coming) value(mm float64) string {
	return quantity.OfLength(int64(math.Round(mm*quantity.PerMillimetre)), c.unit, c.places).String()
}
