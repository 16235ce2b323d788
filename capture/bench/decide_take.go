package bench

import (
	"errors"
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// The tones of notices.
const (
	ToneTaken   = "taken"
	ToneZero    = "zero"
	ToneDatum   = "datum"
	ToneSweep   = "sweep"
	ToneAsk     = "ask"
	ToneFault   = "fault"
	ToneRefused = "refused"
)

// decideTake takes the newest value of the gauge that reads here, or begins or ends the turn that is collected here.
func decideTake(sc Scene, v Verb) (Decision, error) {
	sp := SpotOf(sc)
	if err := sp.err(false); err != nil {
		return Decision{}, err
	}
	g, err := gaugeAsked(sc, sp, v)
	if err != nil {
		return Decision{}, err
	}
	if sc.Sweep != nil {
		return endSweep(sc, v, "")
	}
	if sp.Sweeps() {
		return beginSweep(sc, sp, g)
	}
	if v.Name == DoSweep {
		return refuse("nothing is swept at this point: take its reading")
	}
	if g.Sends == SendsKey && g.Known != KnownKeyed {
		return refuse(fmt.Sprintf("gauge %q speaks only when its own data key is pressed: press it", g.Name))
	}
	now, err := newest(sc, g)
	if err != nil {
		return Decision{}, err
	}
	return takeValue(sc, v, sp, g, now, string(plan.Press))
}

// decideZero sets the zero of a gauge to what it reads now. One that speaks only on its data key is waited for.
func decideZero(sc Scene, v Verb) (Decision, error) {
	g, err := gaugeAsked(sc, SpotOf(sc), v)
	if err != nil {
		return Decision{}, err
	}
	if g.Sends == SendsKey && g.Known != KnownKeyed {
		return Decision{Arm: g.Name, Words: fmt.Sprintf("rest %s on the datum and press its data key: that is its zero", g.Name)}, nil
	}
	now, err := newest(sc, g)
	if err != nil {
		return Decision{}, err
	}
	return setZero(sc, v, g, now)
}

// gaugeAsked is the gauge a verb names, or the one that reads at the spot.
func gaugeAsked(sc Scene, sp Spot, v Verb) (GaugeState, error) {
	if v.Gauge != "" {
		g, ok := sc.State.Gauge(v.Gauge)
		if !ok {
			return g, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", v.Gauge)
		}
		return g, nil
	}
	role := sp.Role
	if sp.Place.Point == "" && sp.Step != nil {
		role = sp.Step.Capture.Role
	}
	return gaugeFor(sc.State, role)
}

// fresh is how old the newest value of a gauge that streams may be when it is taken, in µs.
const fresh = int64(1_000_000)

// newest gives the newest value of a gauge that streams, or says why there is none to take.
func newest(sc Scene, g GaugeState) (Sample, error) {
	v, ok := sc.Newest[g.Name]
	age := sc.Now - v.At
	switch {
	case g.Known == KnownKeyed:
		return v, fmt.Errorf("gauge %q has no line: type its value (thoud key)", g.Name)
	case !g.Open:
		return v, fmt.Errorf("gauge %q is not there: plug it in and switch it on", g.Name)
	case !ok:
		return v, fmt.Errorf("gauge %q has sent nothing yet: is it switched on?", g.Name)
	case v.Unconfirmed:
		return v, fmt.Errorf("gauge %q moves, or its frames are spoilt: its value counts when two frames agree; hold it still and ask again", g.Name)
	case age > max(fresh, 3*sc.Profiles[g.Profile].Poll):
		return v, fmt.Errorf("gauge %q: its last value is %.0f s old, so it is not taken: is it switched off or asleep?", g.Name, float64(age)/1e6)
	}
	return v, nil
}

// takeValue makes the entries of one reading: the pass it opens, and the reading. What follows from it, a question or the end
// of the pass, is Follow's.
func takeValue(sc Scene, v Verb, sp Spot, g GaugeState, now Sample, mode string) (Decision, error) {
	if err := sp.err(false); err != nil {
		return Decision{}, err
	}
	r, err := readingOf(sp, g, now, mode)
	if err != nil {
		return Decision{}, err
	}
	return Decision{Entries: takeEntries(sp, v, r), Tone: ToneTaken, Words: fmt.Sprintf("%s: %s", sp.Name(), r.Value)}, nil
}

func takeEntries(sp Spot, v Verb, r *Reading) []Entry {
	var out []Entry
	if sp.Opens {
		out = append(out, Entry{Kind: PassOpened, Place: Place{Build: sp.Place.Build, Step: sp.Place.Step, Pass: sp.Place.Pass}, By: v.By})
	}
	return append(out, asked(v, Entry{Kind: ReadingTaken, Place: sp.Place, Reading: r}))
}

// readingOf makes the reading of a value at a spot. Errors say what is wrong and what to do.
func readingOf(sp Spot, g GaugeState, v Sample, mode string) (*Reading, error) {
	if !sp.fits(v.Value) {
		return nil, fmt.Errorf("gauge %q gives %s, this step wants %s: is it the right gauge?", g.Name, v.Value.Kind(), sp.kind())
	}
	r := &Reading{Gauge: g.Name, Channel: v.Channel, Mode: mode, Text: v.Text, Status: v.Status, Raw: v.Value, Value: v.Value,
		Frames: [][]byte{v.Frame}, Rest: sp.OnDatum()}
	if err := againstZero(*sp.Step, sp.Place, g, r); err != nil {
		return nil, err
	}
	return r, nil
}

// againstZero refers a reading to the zero that counts at a place.
func againstZero(step plan.Step, at Place, g GaugeState, r *Reading) error {
	z, missing := ZeroAt(g, step, at)
	if missing != "" {
		return errors.New(missing)
	}
	if z == nil {
		return nil
	}
	if z.Raw.Unit.Code != r.Raw.Unit.Code {
		return fmt.Errorf("gauge %q now sends %s, its zero was set in %s: press its unit key back, or zero again", g.Name, r.Raw.Unit.Code, z.Raw.Unit.Code)
	}
	v, err := z.WithZero(r.Raw)
	if err != nil {
		return fmt.Errorf("gauge %q: %w", g.Name, err)
	}
	r.Zero, r.Value = z.ID, v
	return nil
}

// setZero sets a zero: on the datum of the step at hand where the gauge reads there, otherwise on the gauge itself.
func setZero(sc Scene, v Verb, g GaugeState, now Sample) (Decision, error) {
	raw := now.Value
	shows := quantity.Value{N: 0, Places: raw.Places, Unit: raw.Unit}
	place := Place{}
	if b, step := sc.current(); step != nil {
		point := SpotOf(sc).Place.Point
		if at := step.At(point); at.Datum != nil && (at.Capture.Role == "" || at.Capture.Role == g.Role) {
			place = Place{Build: b.Job, Step: step.ID, Pass: b.Step(step.ID).NextPass()}
			if at.Datum.AtPoint || len(step.Gauges) > 0 {
				place.Point = point // it counts there, or for what is read with the same gauge
			}
			if size := DatumSize(b, at); size.Valid() {
				shows = size.In(raw.Unit, raw.Places)
			}
		}
	}
	if v.Value != nil {
		shows = v.Value.In(raw.Unit, raw.Places)
	}
	z := &Zero{Gauge: g.Name, Raw: raw, Shows: shows, Text: now.Text, Frames: [][]byte{now.Frame}, Device: g.Device}
	if _, err := z.WithZero(raw); err != nil {
		return Decision{}, fmt.Errorf("gauge %q: %w", g.Name, err)
	}
	d, err := judgeOldZero(sc, v, g, now)
	if err != nil {
		return Decision{}, err
	}
	if place.Step != "" && d.ends {
		place.Pass++
	}
	d.Tone, d.Words = ToneZero, join(d.Words, fmt.Sprintf("zero of %s: it reads %s there", g.Name, shows))
	d.Entries = append(d.Entries, asked(v, Entry{Kind: ZeroSet, Place: place, Zero: z}))
	return d.Decision, nil
}
