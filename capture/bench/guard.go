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
	guardRange    = "range"
	guardUnit     = "unit"
	guardRole     = "role"
	guardUnstable = "unstable"
	guardTravel   = "travel"
	guardSwap     = "swap"
)

// Implausible asks about a value outside the plausible range of its point, and tries whether another unit explains it.
// nil where nothing is odd.
func Implausible(pt plan.Point, v quantity.Value) *Question {
	if within(pt, v) {
		return nil
	}
	q := &Question{Guard: guardRange, Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("%s reads %s, which is outside what is plausible there (%s): take it as read, or read again?", pt.ID, v, rangeWords(pt))}
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
			q.Choices = []string{TakeSo, AsRead, ReadAgain}
			q.Words = fmt.Sprintf("%s reads %s; this looks like %s: take it so, as read, or read again?", pt.ID, v, w.Round(u, v.Places)+" "+other)
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
	return &Question{Guard: guardRole, Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("%s came from %s, which is registered as %s, and this point wants %s: take it as read, or read again?", r.Value, g.Name, g.Role, want)}
}

// Unstable asks about a value that its gauge itself calls unstable. nil where it does not.
func Unstable(r *Reading) *Question {
	if !strings.Contains(r.Status, statusUnstable) {
		return nil
	}
	return &Question{Guard: guardUnstable, Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("gauge %s says that %s was still moving: take it as read, or read again?", r.Gauge, r.Value)}
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
	return &Question{Guard: guardTravel, Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("%s is further from the zero than gauge %s travels (%s): take it as read, or read again?", r.Value, r.Gauge, g.Travel)}
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
