package capture

import (
	"errors"
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// keyed takes a typed value, or the two blades of a feeler bracket. It is marked keyed for ever.
func (l *Loop) keyed(v bench.Verb) ([]draft, string, error) {
	sp, err := l.nextSpot()
	if err != nil {
		return nil, "", err
	}
	r := &bench.Reading{Gauge: v.Gauge, Mode: string(plan.Keyed), Keyed: true, Rest: sp.place.Point == bench.DatumPoint}
	switch {
	case v.Name == bench.DoBracket:
		if v.Goes == nil || v.Stops == nil {
			return nil, "", errors.New("a bracket wants two blades: the largest that goes and the smallest that does not")
		}
		if v.Goes.Float() >= v.Stops.Float() {
			return nil, "", fmt.Errorf("the blade that goes (%s) must be thinner than the one that does not (%s)", v.Goes, v.Stops)
		}
		r.Mode, r.Goes, r.Stops = string(plan.Bracket), v.Goes, v.Stops
		mid, err := middle(*v.Goes, *v.Stops)
		if err != nil {
			return nil, "", err
		}
		r.Raw = mid
		r.Text = v.Goes.String() + " goes, " + v.Stops.String() + " does not"
	case v.Value == nil || !v.Value.Valid():
		return nil, "", errors.New("a typed reading wants a value and a unit, as \"0.0215 in\"")
	default:
		r.Raw, r.Text = *v.Value, v.Value.String()
		if v.Turns != 0 {
			raw, err := l.withTurns(v)
			if err != nil {
				return nil, "", err
			}
			r.Raw, r.Turns = raw, v.Turns
			r.Text = fmt.Sprintf("%d revolutions and %s", v.Turns, v.Value)
		}
	}
	if kind := sp.step.Capture.Kind; kind != "" && r.Raw.Kind() != kind {
		return nil, "", fmt.Errorf("%s is a %s, this step wants a %s", r.Raw, r.Raw.Kind(), kind)
	}
	r.Value = r.Raw
	if g, ok := l.State().Gauge(v.Gauge); ok && g.Zero != nil {
		if err := againstZero(sp, g, r); err != nil {
			return nil, "", err
		}
	}
	return append(l.takeDrafts(sp, r, v.By), l.closeDraft), fmt.Sprintf("%s: %s, keyed", sp.place, r.Value), nil
}

// withTurns adds whole revolutions of a plain dial's hand to what the hand shows.
func (l *Loop) withTurns(v bench.Verb) (quantity.Value, error) {
	g, ok := l.State().Gauge(v.Gauge)
	if v.Turns > mostTurns || v.Turns < -mostTurns {
		return quantity.Value{}, fmt.Errorf("%d revolutions: more than any dial has", v.Turns)
	}
	if !ok || !g.PerTurn.Valid() {
		return quantity.Value{}, fmt.Errorf("revolutions are understood of a dial that is registered with --per-turn; %q is not", v.Gauge)
	}
	raw := *v.Value
	for range max(v.Turns, -v.Turns) {
		var err error
		if v.Turns > 0 {
			raw, err = raw.Add(g.PerTurn)
		} else {
			raw, err = raw.Sub(g.PerTurn)
		}
		if err != nil {
			return quantity.Value{}, err
		}
	}
	return raw, nil
}

// mostTurns is more than any dial has.
const mostTurns = 200

// middle is the mid of two blades, exact to a tenth of a nanometre.
func middle(a, b quantity.Value) (quantity.Value, error) {
	sum, err := a.Add(b)
	if err != nil {
		return quantity.Value{}, err
	}
	sum.N /= 2
	return sum, nil
}
