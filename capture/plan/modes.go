package plan

import "slices"

// Primary is what the primary action (pedal, space bar, the page's large button) does in a capture mode.
type Primary string

// What the primary action does.
const (
	TakesNow Primary = "take"  // takes the value that stands
	Turns    Primary = "turn"  // begins the sweep, and ends it
	Types    Primary = "type"  // opens the field for a typed value
	Blades   Primary = "blade" // notes a blade that goes or stops
)

// CaptureMode is one row of the table of capture modes.
type CaptureMode struct {
	Name  Mode
	Words string // for people: what is done
	// Sweep: the reading is made of many values while something is turned.
	Sweep bool
	// Paired: a second gauge, of angle, is read with each value.
	Paired bool
	// Typed: the value is typed by hand.
	Typed bool
	// Wheel: an angle is read from a degree wheel by eye.
	Wheel   bool
	Primary Primary
}

// Modes is the table of capture modes.
var Modes = []CaptureMode{
	{Name: Press, Words: "pressed: the value that stands when the key, pedal or button is pressed", Primary: TakesNow},
	{Name: Settle, Words: "settled: moved from the last place, then held still", Primary: TakesNow},
	{Name: Highest, Words: "the highest value while it is turned", Sweep: true, Primary: Turns},
	{Name: Lowest, Words: "the lowest value while it is turned", Sweep: true, Primary: Turns},
	{Name: Swing, Words: "highest less lowest while it is turned", Sweep: true, Primary: Turns},
	{Name: Trace, Words: "traced: every value with its angle while it is turned", Sweep: true, Paired: true, Primary: Turns},
	{Name: Keyed, Words: "typed from a plain dial", Typed: true, Primary: Types},
	{Name: Bracket, Words: "bracketed: the largest blade that goes, the smallest that stops", Typed: true, Primary: Blades},
	{Name: Stops, Words: "at a named angle of the wheel: highest less lowest while it is pushed to contact", Sweep: true, Wheel: true, Primary: Turns},
	{Name: Crossings, Words: "the wheel, typed where the gauge passes a height in the running direction", Typed: true, Wheel: true, Primary: Types},
}

// modeNames lists the names of the modes, in the order of the table.
func modeNames() []Mode {
	names := make([]Mode, len(Modes))
	for i, m := range Modes {
		names[i] = m.Name
	}
	return names
}

// Row finds a mode's row of the table; false for a word that is no mode.
func (m Mode) Row() (CaptureMode, bool) {
	i := slices.IndexFunc(Modes, func(r CaptureMode) bool { return r.Name == m })
	if i < 0 {
		return CaptureMode{}, false
	}
	return Modes[i], true
}

// Sweeps reports whether a reading of this mode is made of many values.
func (m Mode) Sweeps() bool {
	r, _ := m.Row()
	return r.Sweep
}

// Typed reports whether a reading of this mode is typed by hand.
func (m Mode) Typed() bool {
	r, _ := m.Row()
	return r.Typed
}

// ModeOf is how a point of a step is read: its own way, or the step's.
func (s Step) ModeOf(point string) Mode {
	s = s.At(point)
	if p, ok := s.Point(point); ok && p.Mode != "" {
		return p.Mode
	}
	return s.Capture.Mode
}

// RoleOf is the role of the gauge that reads a point of a step: its own, or the step's.
func (s Step) RoleOf(point string) string {
	s = s.At(point)
	if p, ok := s.Point(point); ok && p.Role != "" {
		return p.Role
	}
	return s.Capture.Role
}
