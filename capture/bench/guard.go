package bench

import (
	"fmt"
	"math"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// The answers a guard's question offers.
const (
	AsRead    = "as read"
	ReadAgain = "read again"
	TakeSo    = "take it so"
)

// statusUnstable is how a gauge says of itself that its value still moves.
const statusUnstable = "unstable"

// The guards, as a question names them.
const (
	guardRange     = "range"
	guardUnit      = "unit"
	guardRole      = "role"
	guardUnstable  = "unstable"
	guardTravel    = "travel"
	guardSwap      = "swap"
	guardGauges    = "gauges"
	guardDirection = "direction"
)

// Implausible asks about a value outside the plausible range of its point, and tries whether another unit explains it.
// nil where nothing is odd.
func Implausible(pt plan.Point, v quantity.Value) *Question {
	if within(pt, v) {
		return nil
	}
	q := &Question{Guard: guardRange, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("%s reads %s, which is outside what is plausible there (%s): read again, or take it as read?", pt.ID, v, rangeWords(pt))}
	if v.Kind() != quantity.Length {
		return q
	}
	// Read in inches what is in millimetres, or the other way round: the same digits in the other unit.
	for _, other := range []string{"mm", "in"} {
		u, err := quantity.UnitOf(other)
		if err != nil || other == v.Unit.Code {
			continue
		}
		ratio := u.Size / v.Unit.Size
		n := float64(v.N) * ratio
		if math.Abs(n) > math.MaxInt64/2 {
			continue
		}
		w := quantity.OfLength(int64(math.Round(n)), u, v.Places)
		if within(pt, w) {
			q.Guard, q.Take = guardUnit, &w
			q.Choices = []string{ReadAgain, TakeSo, AsRead}
			q.Words = fmt.Sprintf("%s reads %s; this looks like %s: read again, take it so, or as read?", pt.ID, v, w.Round(u, v.Places)+" "+other)
			return q
		}
	}
	return q
}

// WrongRole asks about a value of a gauge that is registered for other work than this point wants. nil where it fits, or
// where either names no role.
func WrongRole(g GaugeState, r *Reading, want string) *Question {
	if g.Role == "" || want == "" || g.Role == want {
		return nil
	}
	return &Question{Guard: guardRole, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("%s came from %s, which is registered as %s, and this point wants %s: read again, or take it as read?", r.Value, g.Name, g.Role, want)}
}

// OtherUnit asks about a value that another gauge reads 25.4 times as large or as small at the fellow point of the same
// pass, as where one is set to inches and the other to millimetres. nil where none does.
func OtherUnit(cylinders []string, step plan.Step, p *Pass, r Taken) *Question {
	if r.Value.Kind() != quantity.Length {
		return nil
	}
	for _, pt := range step.Points {
		if !fellows(cylinders, pt.ID, r.Point) {
			continue
		}
		o, ok := p.Standing(pt.ID, r.Seating)
		if !ok || o.Gauge == r.Gauge || o.Value.Kind() != quantity.Length || o.Value.Float() == 0 {
			continue
		}
		ratio := math.Abs(r.Value.Float() / o.Value.Float())
		if ratio < 1 {
			ratio = 1 / ratio
		}
		if ratio > inchOff/unitSlack && ratio < inchOff*unitSlack {
			return &Question{Guard: guardGauges, Choices: []string{ReadAgain, AsRead},
				Words: fmt.Sprintf("%s reads %s by %s, %s reads %s by %s, about 25.4 times as far apart as inches and millimetres: look at the unit of both gauges. Read again, or take it as read?",
					r.Point, r.Value, r.Gauge, o.Point, o.Value, o.Gauge)}
		}
	}
	return nil
}

const (
	inchOff   = 25.4 // mm in an inch
	unitSlack = 1.15 // fellow points differ by less than this, as a ratio, where nothing is wrong
)

// fellows reports whether two points are the same one on different cylinders.
func fellows(cylinders []string, a, b string) bool {
	for _, one := range cylinders {
		for _, other := range cylinders {
			restA, okA := cutCylinder(a, one)
			restB, okB := cutCylinder(b, other)
			if one != other && okA && okB && restA == restB {
				return true
			}
		}
	}
	return false
}

// Unstable asks about a value that its gauge itself calls unstable. nil where it does not.
func Unstable(r *Reading) *Question {
	if !strings.Contains(r.Status, statusUnstable) {
		return nil
	}
	return &Question{Guard: guardUnstable, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("gauge %s says that %s was still moving: read again, or take it as read?", r.Gauge, r.Value)}
}

// BeyondTravel asks about a value further from the zero than the gauge travels. nil where the travel or the zero is not
// known.
func BeyondTravel(g GaugeState, r *Reading) *Question {
	if !g.Travel.Valid() || g.Zero == nil || r.Zero == "" || g.Travel.Kind() != r.Raw.Kind() {
		return nil
	}
	if math.Abs(r.Raw.Float()-g.Zero.Raw.Float()) <= g.Travel.Float() {
		return nil
	}
	return &Question{Guard: guardTravel, Choices: []string{ReadAgain, AsRead},
		Words: fmt.Sprintf("%s is further from the zero than gauge %s travels (%s): read again, or take it as read?", r.Value, r.Gauge, g.Travel)}
}

func within(pt plan.Point, v quantity.Value) bool {
	x := v.Float()
	return (!pt.Least.Valid() || x >= pt.Least.Float()) && (!pt.Most.Valid() || x <= pt.Most.Float())
}

func rangeWords(pt plan.Point) string {
	switch {
	case !pt.Least.Valid():
		return "at most " + pt.Most.String()
	case !pt.Most.Valid():
		return "at least " + pt.Least.String()
	}
	return pt.Least.String() + " to " + pt.Most.String()
}
