package bench

import "fmt"

// decideLinked keeps that a gauge came or went. A zero does not outlive the plugging-in of its gauge, nor a start of the
// machine.
func decideLinked(sc Scene, l Linked) (Decision, error) {
	g, ok := sc.State.Gauge(l.Gauge)
	if !ok {
		return Decision{}, nil
	}
	if !l.Up {
		return lineDown(sc, g, l), nil
	}
	var d Decision
	if !g.Open || g.Device != l.Device {
		d.Entries = append(d.Entries, Entry{Kind: GaugeBack, By: byBench, Link: &Link{Gauge: g.Name, Port: l.Port, Device: l.Device}})
	}
	if why := zeroLost(sc, g, l.Device); why != "" {
		d.Entries = append(d.Entries, Entry{Kind: ZeroLost, By: byBench, Item: g.Name, Refers: g.Zero.ID, Reason: why})
	}
	return d, nil
}

func lineDown(sc Scene, g GaugeState, l Linked) Decision {
	d := Decision{Disarm: g.Name}
	if sc.Sweep.Takes(g.Name) {
		d.End, d.Tone = true, ToneFault
		d.Words = fmt.Sprintf("gauge %q went away during the sweep: nothing is taken, begin it again", g.Name)
	}
	if g.Open {
		d.Entries = []Entry{{Kind: GaugeLost, By: byBench, Link: &Link{Gauge: g.Name, Port: l.Port}, Reason: l.Why}}
	}
	return d
}

// zeroLost says why a zero cannot be trusted any more, "" where it can: the machine's boot and the plugging-in of the
// device must be the ones it was set under.
func zeroLost(sc Scene, g GaugeState, device string) string {
	switch z := g.Zero; {
	case z == nil:
		return ""
	case z.Boot != sc.Boot:
		return "the machine was started anew since it was set"
	case z.Device != device:
		return "the gauge was unplugged or switched off since it was set"
	}
	return ""
}

// decideHeard deals with what a gauge said: a key, the zero it was armed for, a press of its data key, a rest at a new
// place. A value that only streams by leads to nothing.
func decideHeard(sc Scene, h Heard) (Decision, error) {
	g, ok := sc.State.Gauge(h.Gauge)
	if !ok {
		return Decision{}, nil
	}
	if h.Sample.Key != "" {
		return decideKey(sc, g, h.Sample.Key)
	}
	if !h.Sample.Value.Valid() {
		return Decision{}, nil
	}
	if why := unitChanged(g, h.Sample); why != "" {
		return Decision{Tone: ToneAsk, Words: fmt.Sprintf("gauge %q lost its zero: %s", g.Name, why),
			Entries: []Entry{{Kind: ZeroLost, By: byBench, Item: g.Name, Refers: g.Zero.ID, Reason: why}}}, nil
	}
	if sc.Sweep.Takes(g.Name) {
		return Decision{Collect: true}, nil
	}
	if a, ok := sc.Armed[g.Name]; ok {
		d, err := setZero(sc, a.Verb, g, h.Sample)
		d.Disarm = g.Name
		return d, err
	}
	if g.Sends == SendsKey {
		return dataKey(sc, g, h.Sample)
	}
	if h.Rested {
		return rested(sc, g, h.Sample)
	}
	return Decision{}, nil
}

// unitChanged says why a zero set in one unit is lost when the gauge goes over to another, "" where it is not.
func unitChanged(g GaugeState, v Sample) string {
	switch {
	case g.Zero == nil:
		return ""
	case v.Reversed:
		return "its sense was turned round"
	case g.Zero.Raw.Unit.Code != v.Value.Unit.Code:
		return fmt.Sprintf("its unit key was pressed: it sends %s now, the zero was set in %s", v.Value.Unit.Code, g.Zero.Raw.Unit.Code)
	}
	return ""
}

// dataKey takes a reading: one frame of a gauge that speaks only on its key is one press. It counts by when the key was
// pressed, not by when its turn came.
func dataKey(sc Scene, g GaugeState, v Sample) (Decision, error) {
	if since := v.At - sc.LastTake; sc.LastTake > 0 && sc.Lockout > 0 && since < sc.Lockout {
		return refuse(fmt.Sprintf("the key of %q came %d ms after a reading and is not taken: press it again", g.Name, max(since, 0)/1000))
	}
	return takeValue(sc, Verb{Name: DoTake, By: byGauge}, SpotOf(sc), g, v, "press")
}

// rested takes the reading of a gauge that came to rest at a new place, or keeps a rest on the datum as a free check of
// the zero.
func rested(sc Scene, g GaugeState, v Sample) (Decision, error) {
	sp := SpotOf(sc)
	if !sp.Settles(g) {
		return Decision{}, nil
	}
	within := leaveTimes * stillBand(*sp.Step, v.Value)
	if !onDatum(g, v.Value, within) || sp.OnDatum() || expectsDatum(sp.Point, g) {
		if sp.Opens && sp.Place.Pass > 1 {
			return refuse("a new pass is begun by hand")
		}
		return takeValue(sc, Verb{Name: DoTake, By: bySettle}, sp, g, v, "settle")
	}
	sp.Place.Point, sp.Place.Seating = DatumPoint, 1
	r, err := readingOf(sp, g, v, "settle")
	if err != nil {
		return Decision{}, nil // the zero does not count here: nothing to check
	}
	return Decision{Tone: ToneDatum, Words: "rest on the datum: it reads " + r.Value.String(),
		Entries: []Entry{{Kind: DatumSeen, Place: sp.Place, By: bySettle, Reading: r}}}, nil
}
