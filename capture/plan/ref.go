package plan

import (
	"fmt"
	"strconv"
	"strings"
)

// RefKind says what a reference points at.
type RefKind string

// The kinds of reference; Binding has the list with what each means.
const (
	RefReading     RefKind = "@reading"
	RefReadings    RefKind = "@readings"
	RefAngles      RefKind = "@angles"
	RefDepths      RefKind = "@depths"
	RefHeights     RefKind = "@heights"
	RefPrior       RefKind = "@prior"
	RefSampleAngle RefKind = "@samples.angle"
	RefSampleValue RefKind = "@samples.value"
	RefEngine      RefKind = "@engine"
	RefFigure      RefKind = "@figure"
)

// Ref is a reference taken apart. It is parsed once, when the plan is read; {key}, {cylinder}, {valve} and {block} still stand in
// it, and For puts a run's own names there.
type Ref struct {
	Text  string // as written, without the trailing "?"
	Kind  RefKind
	Step  string // the other step; "" = the step the reference stands in
	Point string // a point's id, or a pattern of RefReadings, RefAngles, RefDepths and RefHeights; "" = the run's own point
	Name  string // of the engine data or the figure
	Run   string // of a figure: the run it is taken from ("left"); "" for a method that runs once a pass
	Item  int    // of a figure that is a list: which of it, from 1; 0 for all of it
}

// ParseRef takes a reference apart, without its trailing "?"; {key}, {cylinder}, {valve} and {block} may stand for whole names
// or parts of them. It fails on anything that isn't one of the forms listed at Binding.
func ParseRef(s string) (Ref, error) {
	r, err := parseRef(s)
	r.Text = s
	return r, err
}

func parseRef(s string) (Ref, error) {
	bad := func(want string) (Ref, error) { return Ref{}, fmt.Errorf("%s is not a reference: %s", quoted(s), want) }
	if name, ok := strings.CutPrefix(s, "@engine."); ok {
		if !isName(name, "_") {
			return bad("want \"@engine.NAME\"")
		}
		return Ref{Kind: RefEngine, Name: name}, nil
	}
	head, rest, colon := strings.Cut(s, ":")
	r := Ref{Kind: RefKind(head)}
	switch r.Kind {
	case RefReading:
		if !colon {
			return r, nil
		}
	case RefReadings, RefAngles, RefDepths, RefHeights, RefPrior, RefSampleAngle, RefSampleValue:
	case RefFigure:
		step, rest, ok := strings.Cut(rest, ".")
		dot := strings.LastIndexByte(rest, '.')
		r.Step, r.Name = step, rest[dot+1:]
		var whole bool
		if r.Name, r.Item, whole = cutItem(r.Name); !whole {
			return bad("want a number from 1 in the brackets, as \"@figure:STEP.sizes[2]\"")
		}
		if dot > 0 {
			r.Run = rest[:dot]
		}
		if !ok || dot == 0 || !isName(anyRun(r.Step), "-") || !isName(r.Name, "_") || r.Run != "" && !isPointID(strings.ReplaceAll(anyRun(r.Run), "*", "x")) {
			return bad("want \"@figure:STEP.FIGURE\" or \"@figure:STEP.RUN.FIGURE\"")
		}
		return r, nil
	default:
		return bad("want @reading, @readings, @angles, @depths, @heights, @prior, @samples.angle, @samples.value, @engine or @figure")
	}
	if step, point, ok := strings.Cut(rest, "/"); ok {
		if !isName(anyRun(step), "-") {
			return bad("the step before \"/\" has no proper name")
		}
		r.Step, rest = step, point
	}
	r.Point = rest
	pattern := r.Kind == RefReadings || r.Kind == RefAngles || r.Kind == RefDepths || r.Kind == RefHeights
	for _, part := range strings.Split(rest, ".") {
		if part == "*" && !pattern {
			return bad("a star is understood by @readings, @angles, @depths and @heights only")
		}
		if part != "*" && !isName(anyRun(part), "-") {
			return bad("want a point after \":\", as \"@reading:left.now\"")
		}
	}
	return r, nil
}

// cutItem takes "sizes[2]" apart: the figure, and which of its list; 0 where no brackets stand.
func cutItem(s string) (name string, item int, ok bool) {
	name, rest, brackets := strings.Cut(s, "[")
	if !brackets {
		return s, 0, true
	}
	digits, closed := strings.CutSuffix(rest, "]")
	item, err := strconv.Atoi(digits)
	return name, item, closed && err == nil && item > 0 && item <= maxPoints
}

// anyPlace stands in for every place a name can be run over.
var anyPlace = strings.NewReplacer("{key}", "x", "{cylinder}", "x", "{valve}", "x", "{block}", "x")

// anyRun writes some name for {key}, {cylinder}, {valve} and {block}, to judge the rest.
func anyRun(s string) string {
	return anyPlace.Replace(s)
}

// For is the reference of one run: its key, cylinder and valve written out.
func (r Ref) For(key string) Ref {
	r.Text = FillRun(r.Text, key)
	r.Step, r.Point, r.Run = FillRun(r.Step, key), FillRun(r.Point, key), FillRun(r.Run, key)
	return r
}

// Of gives the step a reference points at: another one, or the one it stands in; "" for engine data.
func (r Ref) Of(own string) string {
	switch {
	case r.Kind == RefEngine:
		return ""
	case r.Step == "":
		return own
	}
	return r.Step
}

// Reads reports whether the reference is the standing reading of one point of the step it stands in, for a run.
func (r Ref) Reads(own, point, key string) bool {
	r = r.For(key)
	if r.Point == "" {
		r.Point = key
	}
	return r.Kind == RefReading && r.Of(own) == own && r.Point == point
}

// Stars counts the stars of a reference's pattern.
func (r Ref) Stars() int { return strings.Count(r.Point, "*") }

// isPointID: names parted by dots.
func isPointID(s string) bool {
	for _, part := range strings.Split(s, ".") {
		if !isName(part, "-") {
			return false
		}
	}
	return true
}

// FillRun writes a run's key for {key}, {cylinder}, {block} and {valve} in a reference or an approach point.
func FillRun(s, key string) string {
	if !strings.Contains(s, "{") {
		return s
	}
	cylinder, valve, _ := strings.Cut(key, ".")
	s = strings.ReplaceAll(s, "{key}", key)
	s = strings.ReplaceAll(s, "{cylinder}", cylinder)
	s = strings.ReplaceAll(s, "{block}", cylinder)
	return strings.ReplaceAll(s, "{valve}", valve)
}
