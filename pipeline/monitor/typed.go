package monitor

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// answered is what a page is told: the bench's answer, or a question that must be answered first.
type answered struct {
	bench.Answer
	Ask  string `json:"ask,omitempty"`  // to be asked; asked for again with this unit as sure, it is done
	Unit string `json:"unit,omitempty"` // that the question is about
}

// otherUnit is a value that was typed in a unit of the other system than the page shows: it may be meant so, and it may
// be a slip that is wrong by a factor of 25.4.
type otherUnit struct {
	typed quantity.Value
	page  quantity.System
	unit  string
}

func (o *otherUnit) Error() string {
	return fmt.Sprintf("%s was typed, and this page shows %s: that is %s. Is it meant so?", o.typed, o.page.For(o.typed.Kind()).Code, calc.ShowReading(o.typed).In(o.page))
}

// typedFor reads a value for the point in work and asks about a unit of the other system, once a unit.
func (s *Server) typedFor(a ask, text string) (quantity.Value, error) {
	v, own, err := s.typed(text, a.System)
	if err != nil {
		return v, err
	}
	page := quantity.System(a.System)
	if page != "" && v.Unit.Code != own.Code && imperial(v.Unit) != (page == quantity.Inch) && page.For(v.Kind()).Code != v.Unit.Code && twoSystems(v.Kind()) && a.Sure != v.Unit.Code {
		return v, &otherUnit{typed: v, page: page, unit: v.Unit.Code}
	}
	return v, nil
}

// twoSystems reports whether a kind is shown in another unit in inches than in millimetres.
func twoSystems(kind quantity.Kind) bool {
	return quantity.Metric.For(kind).Code != quantity.Inch.For(kind).Code
}

// imperial reports whether a unit goes with inches and pounds.
func imperial(u quantity.Unit) bool {
	for _, of := range []string{"in", "lbf", "lb", "oz", "thou", "psi", "tpi"} {
		if strings.HasPrefix(u.Code, of) {
			return true
		}
	}
	return false
}

// typed reads a value for the point in work; a number without a unit is in the unit that stands beside the box.
func (s *Server) typed(text, system string) (v quantity.Value, own quantity.Unit, err error) {
	kind := quantity.Length
	spot := bench.SpotOf(s.cfg.Bench.Scene()) // after a closed pass: the first point of the next one
	if spot.Step != nil {
		if of := spot.Step.KindOf(spot.Place.Point); of != "" {
			kind = of
		}
	}
	own = view.TypedUnit(spot, kind, quantity.System(system))
	v, err = typedIn(kind, text, own)
	return v, own, err
}

// typedAs reads a value that belongs to no gauge: without a unit it is in the unit that the screen shows.
func (s *Server) typedAs(kind quantity.Kind, text, system string) (quantity.Value, error) {
	return typedIn(kind, text, quantity.System(system).For(kind))
}

func typedIn(kind quantity.Kind, text string, own quantity.Unit) (quantity.Value, error) {
	text = strings.TrimSpace(strings.ReplaceAll(text, ",", "."))
	if text == "" {
		return quantity.Value{}, fmt.Errorf("nothing was typed")
	}
	if number, unit := unitTyped(kind, text); unit != "" {
		text = number + " " + unit
	} else if strings.IndexFunc(text, isLetter) < 0 {
		text += " " + own.Code
	}
	v, err := quantity.ParseAs(kind, text)
	if err != nil {
		return v, fmt.Errorf("not taken: %w", err)
	}
	return v, nil
}

// inchMarks are what stands for the inch besides its code.
var inchMarks = []string{"\"", "″", "''"}

// unitTyped parts a number from its unit as hands and gauges that type like a keyboard write it: joined to the number, in
// capitals, or with an inch mark. The unit is "" where it is none of the kind.
func unitTyped(kind quantity.Kind, text string) (number, unit string) {
	i := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.+-/ ", r) })
	if i <= 0 {
		return "", ""
	}
	number, written := strings.TrimSpace(text[:i]), strings.TrimSpace(text[i:])
	if kind == quantity.Length && slices.Contains(inchMarks, written) {
		return number, quantity.Inch.For(quantity.Length).Code
	}
	for _, u := range quantity.Units() {
		if u.Kind == kind && strings.EqualFold(u.Code, written) {
			if unit != "" && unit != u.Code {
				return "", "" // capitals tell them apart: taken as written
			}
			unit = u.Code
		}
	}
	return number, unit
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '°' }

// twoOf parts "0.010 in 0.011 in", "0.010 0.011" or "0.010/0.011".
func twoOf(s string) (a, b string, ok bool) {
	f := strings.Fields(strings.NewReplacer(";", " ", "-", " ").Replace(s))
	switch len(f) {
	case 2:
		return f[0], f[1], true
	case 3:
		return f[0] + " " + f[2], f[1] + " " + f[2], true
	case 4:
		return f[0] + " " + f[1], f[2] + " " + f[3], true
	}
	return "", "", false
}
