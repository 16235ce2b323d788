package bench

import (
	"errors"
	"fmt"

	"thoud/capture/plan"
)

// beginSweep begins to collect the values of a gauge while the part is turned.
func beginSweep(sc Scene, sp Spot, g GaugeState) (Decision, error) {
	now, err := newest(sc, g)
	if err == nil {
		err = againstZero(*sp.Step, sp.Place, g, &Reading{Gauge: g.Name, Raw: now.Value, Value: now.Value})
	}
	if err != nil {
		return Decision{}, err
	}
	s := &Sweep{Place: sp.Place, Mode: sp.Mode, Gauge: g.Name, Began: sc.Now}
	if role := sp.Step.Capture.Angle; role != "" {
		a, err := gaugeFor(sc.State, role)
		if err == nil {
			_, err = newest(sc, a)
		}
		if err != nil {
			return Decision{}, fmt.Errorf("the angle: %w", err)
		}
		s.Angle = a.Name
	} else if s.Mode == plan.Trace {
		return refuse(fmt.Sprintf("step %s traces, but names no angle gauge: its plan wants capture.angle", sp.Step.ID))
	}
	return Decision{Begin: s, Tone: ToneSweep, Words: "the sweep runs: turn by hand, plugs out, and press again at the end"}, nil
}

// endSweep ends the sweep that runs and takes its reading. why says why it ended by itself, "" where a hand did.
func endSweep(sc Scene, v Verb, why string) (Decision, error) {
	s := sc.Sweep
	if s == nil {
		return refuse("the sweep has ended already")
	}
	over := Decision{End: true}
	g, ok := sc.State.Gauge(s.Gauge)
	if !ok {
		return over, fmt.Errorf("gauge %q is no longer registered", s.Gauge)
	}
	sp := SpotOf(sc)
	if sp.err(false) != nil || sp.Place != s.Place {
		return over, errors.New("the bench has moved on since the sweep began: nothing is taken")
	}
	var zero *ZeroInForce
	if a, ok := sc.State.Gauge(s.Angle); ok {
		zero = a.Zero
	}
	r, err := s.reading(*sp.Step, g, zero)
	if err != nil {
		return over, err
	}
	r.Samples.Ended = why
	over.Words = fmt.Sprintf("%s: %s, %d samples", sp.Name(), r.Value, len(r.Samples.Value))
	if r.Samples.Gaps != "" {
		over.Words += "; " + r.Samples.Gaps
	}
	over.Tone, over.Entries = ToneTaken, takeEntries(sp, v, r)
	return over, nil
}
