package capture

import (
	"fmt"
	"math"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/devices"
)

// The answers a guard's question offers.
const (
	AsRead    = "as read"
	ReadAgain = "read again"
	TakeSo    = "take it so"
)

// askDrafts are the questions that a reading raises; they stand in the ledger and wait for the end of the pass.
func (l *Loop) askDrafts(sp spot, r *bench.Reading) []draft {
	var ds []draft
	g, _ := l.State().Gauge(r.Gauge)
	for _, q := range []*bench.Question{Implausible(sp.point(), r.Value), Unstable(r), BeyondTravel(g, r), WrongRole(g, r, sp.role())} {
		if q != nil && sp.place.Point != bench.DatumPoint {
			ds = append(ds, func(s bench.State) *bench.Entry { return ask(s, sp.place, q) })
		}
	}
	return append(ds, swapDraft(sp))
}

// swapDraft asks whether two sides were exchanged, where the pass looks so.
func swapDraft(sp spot) draft {
	return func(s bench.State) *bench.Entry {
		q := swapped(s, sp.place)
		if q == nil {
			return nil
		}
		return ask(s, sp.place, q)
	}
}

// ask makes the entry of a question about the newest reading of a place's pass.
func ask(s bench.State, place bench.Place, q *bench.Question) *bench.Entry {
	b, ok := s.Build(place.Build)
	if !ok {
		return nil
	}
	p := b.Step(place.Step).Pass(place.Pass)
	if p == nil || len(p.Readings) == 0 {
		return nil
	}
	about := p.Readings[len(p.Readings)-1].ID
	for _, o := range b.Step(place.Step).Questions {
		if o.Guard == q.Guard && o.Pass == place.Pass && (o.Reading == about || o.Guard == "swap") {
			return nil // asked already about this reading, or this pass
		}
	}
	return &bench.Entry{Kind: bench.Asked, Place: place, By: "bench", Refers: about, Question: q}
}

// Implausible asks about a value outside the plausible range of its point, and tries whether another unit explains it.
// nil where nothing is odd.
func Implausible(pt plan.Point, v quantity.Value) *bench.Question {
	if within(pt, v) {
		return nil
	}
	q := &bench.Question{Guard: "range", Choices: []string{AsRead, ReadAgain},
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
			q.Guard, q.Take = "unit", &w
			q.Choices = []string{TakeSo, AsRead, ReadAgain}
			q.Words = fmt.Sprintf("%s reads %s; this looks like %s: take it so, as read, or read again?", pt.ID, v, w.Round(u, v.Places)+" "+other)
			return q
		}
	}
	return q
}

// WrongRole asks about a value of a gauge that is registered for other work than this point wants. nil where it fits, or
// where either names no role.
func WrongRole(g bench.GaugeState, r *bench.Reading, want string) *bench.Question {
	if g.Role == "" || want == "" || g.Role == want {
		return nil
	}
	return &bench.Question{Guard: "role", Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("%s came from %s, which is registered as %s, and this point wants %s: take it as read, or read again?", r.Value, g.Name, g.Role, want)}
}

// Unstable asks about a value that its gauge itself calls unstable. nil where it does not.
func Unstable(r *bench.Reading) *bench.Question {
	if !strings.Contains(r.Status, devices.Unstable.String()) {
		return nil
	}
	return &bench.Question{Guard: "unstable", Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("gauge %s says that %s was still moving: take it as read, or read again?", r.Gauge, r.Value)}
}

// BeyondTravel asks about a value further from the zero than the gauge travels. nil where the travel or the zero is not
// known.
func BeyondTravel(g bench.GaugeState, r *bench.Reading) *bench.Question {
	if !g.Travel.Valid() || g.Zero == nil || r.Zero == "" || g.Travel.Kind() != r.Raw.Kind() {
		return nil
	}
	if math.Abs(r.Raw.Float()-g.Zero.Raw.Float()) <= g.Travel.Float() {
		return nil
	}
	return &bench.Question{Guard: "travel", Choices: []string{AsRead, ReadAgain},
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

// swapped asks, when a pass is full, whether two sides were read the wrong way round: as a hypothesis on the whole pass
// against the pass before. Every point of the first cylinder is exchanged with its fellow of the other; if that brings
// the pass clearly nearer to the one before (the sum of squares falls to less than a quarter, and every pair gains), it
// is asked. nil where it does not, or where there is no pass to compare with.
func swapped(s bench.State, place bench.Place) *bench.Question {
	b, ok := s.Build(place.Build)
	if !ok || len(b.Plan.Cylinders) != 2 {
		return nil
	}
	step, ok := b.Plan.Step(place.Step)
	st := b.Step(place.Step)
	p := st.Pass(place.Pass)
	if !ok || p == nil || p.Status != bench.PassIsFull || p.Number < 2 {
		return nil
	}
	before := previous(st, p.Number)
	if before == nil {
		return nil
	}
	pairs := pairsOf(b.Plan.Cylinders, step, p, before)
	if len(pairs) == 0 {
		return nil
	}
	asIs, exchanged := 0.0, 0.0
	for _, q := range pairs {
		asIs += sq(q.left-q.leftWas) + sq(q.right-q.rightWas)
		exchanged += sq(q.left-q.rightWas) + sq(q.right-q.leftWas)
		if sq(q.left-q.rightWas)+sq(q.right-q.leftWas) >= sq(q.left-q.leftWas)+sq(q.right-q.rightWas) {
			return nil
		}
	}
	if exchanged >= asIs/4 {
		return nil
	}
	return &bench.Question{Guard: "swap", Choices: []string{AsRead, ReadAgain},
		Words: fmt.Sprintf("%s and %s look exchanged: these readings fit pass %d better the other way round. Take them as read, or read the pass again?",
			b.Plan.Cylinders[0], b.Plan.Cylinders[1], before.Number)}
}

type pair struct{ left, right, leftWas, rightWas float64 }

// pairsOf collects the points that both cylinders and both passes have.
func pairsOf(cylinders []string, step plan.Step, p, before *bench.Pass) []pair {
	var out []pair
	for _, pt := range step.Points {
		fellow, ok := fellowOf(pt.ID, cylinders)
		if !ok {
			continue
		}
		a, ok1 := p.Standing(pt.ID, 1)
		c, ok2 := p.Standing(fellow, 1)
		aw, ok3 := before.Standing(pt.ID, 1)
		cw, ok4 := before.Standing(fellow, 1)
		if ok1 && ok2 && ok3 && ok4 {
			out = append(out, pair{a.Value.Float(), c.Value.Float(), aw.Value.Float(), cw.Value.Float()})
		}
	}
	return out
}

// fellowOf gives the same point on the other cylinder; only points of the first cylinder have one.
func fellowOf(id string, cylinders []string) (string, bool) {
	rest, ok := cutCylinder(id, cylinders[0])
	if !ok {
		return "", false
	}
	return cylinders[1] + rest, true
}

func cutCylinder(id, cylinder string) (string, bool) {
	if id == cylinder {
		return "", true
	}
	if len(id) > len(cylinder) && id[:len(cylinder)] == cylinder && id[len(cylinder)] == '.' {
		return id[len(cylinder):], true
	}
	return "", false
}

func previous(st *bench.StepState, n int) *bench.Pass {
	for i := len(st.Passes) - 1; i >= 0; i-- {
		if p := st.Passes[i]; p.Number < n && p.Status == bench.PassIsClosed {
			return p
		}
	}
	return nil
}

func sq(x float64) float64 { return x * x }
