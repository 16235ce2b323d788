package drawing

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Errors that callers branch on.
var (
	ErrUnknown = errors.New("no such drawing")
	ErrRefused = errors.New("cannot be drawn")
)

// Number is one number that drives a drawing. Value is in the base unit of its kind (lengths in mm, angles in degrees).
// Text is how it is written beside its dimension, with its unit; where it is empty no figure is written.
type Number struct {
	Value float64
	Text  string
}

// Bolt is a bolt of a circle, or any other numbered place. X goes to the right and Y to the rear as seen from the rider's
// seat, both in any one unit; they are fitted into the drawing.
type Bolt struct {
	Name string // what is written on it, usually its number
	X, Y float64
	Done bool
	Now  bool
	Next bool
}

// Piece is something that is in the engine for the time being.
type Piece struct {
	No    int    // its number in the list beside the drawing
	What  string // "stop", "cloth", "indicator", "board", "clip" … as people call it
	Where string // "left plug", "right mouth", "joint": the words that name its place
}

// Numbers is all that drives a drawing. Everything may be left out: what is not known is drawn in its usual place and has
// no figure.
type Numbers struct {
	Point  string            // the point in work as the plan names it ("left.inlet"): its words light parts of the drawing
	Move   string            // which way it is to go: one of the row's moves; empty draws no arrow
	Of     map[string]Number // by the names in the row's Drives
	Is     map[string]string // by the names in the row's Choices
	Bolts  []Bolt
	Pieces []Piece
	Follow bool // the figure of the number that the gauge reads is marked, for a page that keeps it up to date
}

// check refuses what the row does not have.
func (r Row) check(n Numbers) error {
	refuse := func(format string, a ...any) error {
		return fmt.Errorf("drawing %q %w: %s", r.Name, ErrRefused, fmt.Sprintf(format, a...))
	}
	for name, v := range n.Of {
		if !slices.ContainsFunc(r.Drives, func(d Drive) bool { return d.Name == name }) {
			return refuse("it has no number %q; it has %s", name, list(r.Drives, func(d Drive) string { return d.Name }))
		}
		if math.IsNaN(v.Value) || math.IsInf(v.Value, 0) {
			return refuse("its number %q is %v; leave it out where it is not known", name, v.Value)
		}
	}
	for name, v := range n.Is {
		i := slices.IndexFunc(r.Choices, func(c Choice) bool { return c.Name == name })
		if i < 0 {
			return refuse("it has no choice %q; it has %s", name, list(r.Choices, func(c Choice) string { return c.Name }))
		}
		if !slices.Contains(r.Choices[i].Of, v) {
			return refuse("its %s is %q; it is one of %s", name, v, strings.Join(r.Choices[i].Of, ", "))
		}
	}
	if n.Move != "" && !slices.Contains(r.Moves, n.Move) {
		return refuse("it cannot show the move %q; it shows %s", n.Move, list(r.Moves, func(s string) string { return s }))
	}
	if len(n.Bolts) > 0 && !r.Bolts {
		return refuse("it has no bolts")
	}
	for _, b := range n.Bolts {
		if math.IsNaN(b.X+b.Y) || math.IsInf(b.X+b.Y, 0) {
			return refuse("bolt %q stands at %v, %v", b.Name, b.X, b.Y)
		}
	}
	if len(n.Pieces) > 0 && !r.Pieces {
		return refuse("it shows no temporary pieces")
	}
	return nil
}

func list[T any](all []T, name func(T) string) string {
	if len(all) == 0 {
		return "none"
	}
	var s []string
	for _, x := range all {
		s = append(s, name(x))
	}
	return strings.Join(s, ", ")
}
