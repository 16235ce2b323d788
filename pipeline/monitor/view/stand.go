package view

import "math"

// Side says how a moving part stands to the band.
type Side string

// The sides, as seen from where the move began: past is beyond the limit that was approached.
const (
	Before Side = "before"
	Within Side = "in"
	Past   Side = "past"
)

// Stand is how a part stands to where it must come to rest: all that the screen says while it moves.
type Stand struct {
	Moving bool    `json:"moving,omitempty"` // it has left the place where it was read: the screen counts down what is left
	Y      float64 `json:"y"`                // place of the bar on the rule
	Off    string  `json:"off,omitempty"`    // "up" or "down" where the value is beyond the rule
	Side   Side    `json:"side"`
	Near   float64 `json:"near"`          // 0 at the start of the move, 1 at the target: the pace of the ticks
	To     Text    `json:"to"`            // what is left to the target, without sign
	Way    string  `json:"way,omitempty"` // "up" or "down": the way to go; "" within the band
	Go     string  `json:"go,omitempty"`  // that way in words: "away from the cam"
	Now    Text    `json:"now"`           // the figure at the bar
	Note   Text    `json:"note"`          // what stands behind it, in small type
}

// Counts of the gauge: within atRest a part has not been moved yet; within flicker the figure shown stays as it is.
const (
	atRest  = 4
	flicker = 1.01
)

// Stand tells how a live value stands on the rule.
func (r *Rule) Stand(x float64) Stand {
	b := r.Band
	s := Stand{Y: math.Round(10*r.y(x)) / 10, To: both(math.Abs(b.Target-x), r.Kind, r.Resolution), Now: r.short(x)}
	switch {
	case x < r.Least:
		s.Off = "down"
	case x > r.Most:
		s.Off = "up"
	}
	way := b.Target - x
	from := way // the way to go from where the move began
	if b.Now != nil && *b.Now != b.Target {
		from = b.Target - *b.Now
	}
	in := (b.Lower == nil || x >= *b.Lower) && (b.Upper == nil || x <= *b.Upper)
	switch {
	case in:
		s.Side = Within
	case way*from > 0:
		s.Side = Before
	default:
		s.Side = Past
	}
	if !in {
		s.Way, s.Go = "up", r.Up
		if way < 0 {
			s.Way, s.Go = "down", r.Down
		}
	}
	if from != 0 {
		s.Near = max(0, min(1, 1-math.Abs(way/from)))
	}
	s.Moving = r.moving(x)
	s.Note = r.note(x, s.Side)
	return s
}

// moving reports whether a value is that of a part on its way: it has left the place where it was read, and it is near
// enough to the rule that the gauge can stand on the part at all.
func (r *Rule) moving(x float64) bool {
	long := r.Most - r.Least
	if r.Band.Now == nil {
		return x > r.Least-long && x < r.Most+long
	}
	now := *r.Band.Now
	return math.Abs(x-now) > max(atRest*r.Resolution, 1e-9) && x > min(now, r.Least)-long && x < max(now, r.Most)+long
}

// note is what is said in small type of a part on its way.
func (r *Rule) note(x float64, side Side) Text {
	b := r.Band
	now, want := both(x, r.Kind, r.Resolution), r.WantedText()
	switch side {
	case Within:
		off := both(math.Abs(b.Target-x), r.Kind, r.Resolution)
		return Text{MM: now.MM + ": " + off.MM + " from where it is wanted", Inch: now.Inch + ": " + off.Inch + " from where it is wanted"}
	case Past:
		limit := b.Upper
		if limit == nil || b.Lower != nil && x < *b.Lower {
			limit = b.Lower
		}
		l := both(*limit, r.Kind, r.Resolution)
		return Text{MM: now.MM + "; the limit is " + l.MM, Inch: now.Inch + "; the limit is " + l.Inch}
	}
	if b.Lower != nil && b.Upper != nil {
		half := both(max(*b.Upper-b.Target, b.Target-*b.Lower), r.Kind, r.Resolution)
		if even := math.Abs((*b.Upper-b.Target)-(b.Target-*b.Lower)) < max(r.Resolution/2, 1e-9); even {
			return Text{MM: "Wanted " + want.MM + ", ± " + half.MM, Inch: "Wanted " + want.Inch + ", ± " + half.Inch}
		}
	}
	return Text{MM: "Wanted " + want.MM, Inch: "Wanted " + want.Inch}
}

// Steady gives the value to show for a new one: the one that is shown already where the new one differs by no more than
// the gauge's own flicker, unless the part is still.
func Steady(shown, x, resolution float64, still bool) float64 {
	if !still && math.Abs(x-shown) <= flicker*resolution {
		return shown
	}
	return x
}
