package bench

import (
	"errors"
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// decideKeyed takes a typed value, or the two blades of a feeler bracket. It is marked keyed for ever.
func decideKeyed(sc Scene, v Verb) (Decision, error) {
	sp := SpotOf(sc)
	if err := sp.err(sp.Mode == plan.Crossings); err != nil {
		return Decision{}, err
	}
	if row, _ := sp.Mode.Row(); row.Paired {
		return Decision{}, fmt.Errorf("%s is traced over a turn, with an angle to every value: one typed value says nothing there. Turn it with both gauges on (thoud sweep)", sp.Place.Point)
	}
	if g, ok := sc.State.Gauge(v.Gauge); v.Gauge != "" && (!ok || g.Removed) {
		return Decision{}, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is, or type without a gauge", v.Gauge)
	}
	r, err := typedReading(sc, v)
	if err != nil {
		return Decision{}, err
	}
	if !sp.fits(r.Raw) {
		return Decision{}, fmt.Errorf("%s is a %s, this step wants a %s", r.Raw, r.Raw.Kind(), sp.kind())
	}
	r.Value, r.Rest = r.Raw, sp.OnDatum()
	if err := byEye(sc, sp, r); err != nil {
		return Decision{}, err
	}
	if g, ok := sc.State.Gauge(v.Gauge); ok && g.Zero != nil && sp.Mode != plan.Crossings {
		if err := againstZero(*sp.Step, sp.Place, g, r); err != nil {
			return Decision{}, err
		}
	}
	return Decision{Entries: takeEntries(sp, v, r), Words: fmt.Sprintf("%s: %s, typed", sp.Name(), r.Value)}, nil
}

// byEye holds what was typed of a wheel against how the crankshaft was turned, and names the wheel where there is one.
func byEye(sc Scene, sp Spot, r *Reading) error {
	if sp.OnDatum() || !sp.Step.ByEye(sp.Place.Point) {
		return nil
	}
	if sp.Mode == plan.Crossings {
		r.Mode = string(plan.Crossings)
		if c := sc.Coming; c != nil && c.Place == sp.Place {
			if err := c.Err(); err != nil {
				return err
			}
		}
	}
	if g, ok := sc.State.Gauge(r.Gauge); ok && g.Role == plan.WheelRole {
		return checkWheel(sp, r.Raw)
	}
	r.Gauge = ""
	if wheels, pick := sc.State.GaugesFor(plan.WheelRole); pick >= 0 {
		r.Gauge = wheels[pick].Name
	}
	return checkWheel(sp, r.Raw)
}

// typedReading reads what was typed: a value, whole revolutions and a value, or two blades.
func typedReading(sc Scene, v Verb) (*Reading, error) {
	r := &Reading{Gauge: v.Gauge, Mode: string(plan.Keyed), Keyed: true}
	if v.Name == DoBracket {
		return r, r.bracket(v)
	}
	if v.Value == nil || !v.Value.Valid() {
		return nil, errors.New("a typed reading wants a value and a unit, as \"0.0215 in\"")
	}
	r.Raw, r.Text = *v.Value, v.Value.String()
	if v.Turns == 0 {
		return r, nil
	}
	raw, err := withTurns(sc, v)
	if err != nil {
		return nil, err
	}
	r.Raw, r.Turns = raw, v.Turns
	r.Text = fmt.Sprintf("%d revolutions and %s", v.Turns, v.Value)
	return r, nil
}

// bracket makes a reading of two blades: the mid of the two, exact to a tenth of a nanometre.
func (r *Reading) bracket(v Verb) error {
	if v.Goes == nil || v.Stops == nil {
		return errors.New("a bracket wants two blades: the largest that goes and the smallest that does not")
	}
	if v.Goes.Float() >= v.Stops.Float() {
		return fmt.Errorf("the blade that goes (%s) must be thinner than the one that does not (%s)", v.Goes, v.Stops)
	}
	mid, err := v.Goes.Add(*v.Stops)
	if err != nil {
		return err
	}
	mid.N /= 2
	r.Mode, r.Goes, r.Stops, r.Raw = string(plan.Bracket), v.Goes, v.Stops, mid
	r.Text = v.Goes.String() + " goes, " + v.Stops.String() + " does not"
	return nil
}

// withTurns adds whole revolutions of a plain dial's hand to what the hand shows.
func withTurns(sc Scene, v Verb) (quantity.Value, error) {
	g, ok := sc.State.Gauge(v.Gauge)
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
