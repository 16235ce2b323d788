package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/capture/plan"
)

// fresh is how old the newest value of a gauge that streams may be when it is taken.
const fresh = time.Second

// newest gives the newest value of a gauge that streams, or says why there is none to take.
func (l *Loop) newest(g bench.GaugeState) (line.Event, error) {
	ev, ok := l.watch.newest(g.Name)
	switch {
	case g.Known == bench.KnownKeyed:
		return line.Event{}, fmt.Errorf("gauge %q has no line: type its value (thoud key)", g.Name)
	case !g.Open:
		return line.Event{}, fmt.Errorf("gauge %q is not there: plug it in and switch it on", g.Name)
	case !ok:
		return line.Event{}, fmt.Errorf("gauge %q has sent nothing yet: is it switched on?", g.Name)
	case l.Now().Sub(ev.At) > max(fresh, 3*l.Profiles[g.Profile].Poll.Interval):
		return line.Event{}, fmt.Errorf("gauge %q: its last value is %.0f s old, so it is not taken: is it switched off or asleep?", g.Name, l.Now().Sub(ev.At).Seconds())
	}
	return ev, nil
}

// reading makes the reading of a heard value at a spot. Errors say what is wrong and what to do.
func (l *Loop) reading(sp spot, g bench.GaugeState, ev line.Event, mode plan.Mode) (*bench.Reading, error) {
	raw := ev.Sample.Value
	if kind := sp.step.Capture.Kind; kind != "" && raw.Kind() != kind {
		return nil, fmt.Errorf("gauge %q gives %s, this step wants %s: is it the right gauge?", g.Name, raw.Kind(), kind)
	}
	r := &bench.Reading{Gauge: g.Name, Channel: ev.Sample.Channel, Mode: string(mode), Text: string(ev.Sample.Text), Status: ev.Sample.Status.String(), Raw: raw, Value: raw,
		Frames: [][]byte{ev.Sample.Frame}, Rest: sp.place.Point == bench.DatumPoint}
	if err := againstZero(sp, g, r); err != nil {
		return nil, err
	}
	return r, nil
}

// againstZero refers a reading to the zero that counts at the spot.
func againstZero(sp spot, g bench.GaugeState, r *bench.Reading) error {
	z, missing := bench.ZeroAt(g, sp.step, sp.place)
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

// takeDrafts are the entries of one reading: the pass it opens, the reading, what a guard asks, and the pass it closes.
func (l *Loop) takeDrafts(sp spot, r *bench.Reading, by string) []draft {
	var ds []draft
	if sp.opens {
		ds = append(ds, func(s bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: sp.place.Build, Step: sp.place.Step, Pass: sp.place.Pass}, By: by, Verb: prepares}
		})
	}
	ds = append(ds, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.ReadingTaken, Place: sp.place, By: by, Reading: r}
	})
	return append(ds, l.askDrafts(sp, r)...)
}

// closeDraft closes the pass the bench stands in once nothing is missing and nothing is asked.
func (l *Loop) closeDraft(s bench.State) *bench.Entry {
	b, step := s.Current()
	if b == nil || step == nil {
		return nil
	}
	st := b.Step(step.ID)
	p := st.Pass(s.Place.Pass)
	if p == nil || p.Status != bench.PassIsFull {
		return nil
	}
	for _, q := range st.Questions {
		if q.Pass == p.Number {
			return nil
		}
	}
	place := bench.Place{Build: b.Job, Step: step.ID, Pass: p.Number}
	if step.Datum == nil || !step.Datum.Close {
		return &bench.Entry{Kind: bench.PassClosed, Place: place, By: "bench"}
	}
	rest, ok := p.Standing(bench.DatumPoint, 1)
	if !ok || rest.N < newestStanding(p) {
		return nil // what was read after the closing reading is not vouched for by it
	}
	return judgeDrift(b, *step, s, rest, place)
}

func newestStanding(p *bench.Pass) uint64 {
	newest := uint64(0)
	for _, r := range p.Readings {
		if !r.Withdrawn {
			newest = max(newest, r.N)
		}
	}
	return newest
}

// judgeDrift closes a pass where the datum reads what it did, and voids it where the gauge has wandered too far.
func judgeDrift(b *bench.Build, step plan.Step, s bench.State, rest bench.Taken, place bench.Place) *bench.Entry {
	shows := bench.DatumSize(b, step)
	if g, ok := s.Gauge(rest.Gauge); ok && g.Zero != nil {
		shows = g.Zero.Shows
	}
	drift, err := rest.Value.Sub(shows)
	if err != nil {
		return &bench.Entry{Kind: bench.PassVoid, Place: place, By: "bench", Reason: "the closing reading is of another kind than the zero: " + err.Error()}
	}
	allowed := AllowedDrift(b, step, rest.Raw)
	d := &bench.Drift{By: drift, Allowed: allowed}
	if math.Abs(drift.Float()) > allowed.Float() {
		return &bench.Entry{Kind: bench.PassVoid, Place: place, By: "bench", Drift: d,
			Reason: fmt.Sprintf("the zero moved by %s, %s is allowed: find what moved, set zero and read the pass again", drift, allowed)}
	}
	return &bench.Entry{Kind: bench.PassClosed, Place: place, By: "bench", Drift: d}
}

// AllowedDrift is how far a gauge may have wandered when a pass is closed: what the step says, or 10 % of the narrowest
// tolerance of its lengths, and never less than two counts of the gauge.
func AllowedDrift(b *bench.Build, step plan.Step, like quantity.Value) quantity.Value {
	least := 2 * like.Resolution()
	allowed := 0.0
	if d := step.Datum.Drift; d.Valid() {
		allowed = d.Float()
	} else if step.Compute != nil {
		for _, lim := range step.Compute.Limits {
			width := 0.0
			switch {
			case lim.Lower != nil && lim.Upper != nil:
				width = *lim.Upper - *lim.Lower
			case lim.Upper != nil:
				width = math.Abs(*lim.Upper)
			default:
				continue
			}
			if allowed == 0 || width/10 < allowed {
				allowed = width / 10
			}
		}
	}
	allowed = max(allowed, least)
	if like.Kind() == quantity.Length {
		return quantity.OfLength(int64(math.Round(allowed*quantity.PerMillimetre)), like.Unit, like.Places)
	}
	v, err := quantity.Make(int64(math.Round(like.Unit.FromBase(allowed)*math.Pow10(like.Places))), like.Places, like.Unit)
	if err != nil {
		return quantity.Value{N: 0, Places: like.Places, Unit: like.Unit}
	}
	return v
}

// take takes what a gauge said as the reading of the next spot.
func (l *Loop) take(ctx context.Context, v bench.Verb, reply chan<- bench.Answer, g bench.GaugeState, ev line.Event, mode plan.Mode) {
	sp, err := l.nextSpot()
	if err == nil && mode == plan.Settle && sp.opens && sp.place.Pass > 1 {
		err = errors.New("a new pass is begun by hand")
	}
	var r *bench.Reading
	if err == nil {
		r, err = l.reading(sp, g, ev, mode)
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	l.enqueue(ctx, task{verb: v, reply: reply, drafts: append(l.takeDrafts(sp, r, v.By), l.closeDraft), tone: "taken",
		words: fmt.Sprintf("%s: %s", sp.place, r.Value)})
}

// zero sets the zero of a gauge to what it reads now.
func (l *Loop) zero(ctx context.Context, v bench.Verb, reply chan<- bench.Answer, g bench.GaugeState, ev line.Event) {
	raw := ev.Sample.Value
	s := l.State()
	shows := quantity.Value{N: 0, Places: raw.Places, Unit: raw.Unit}
	place := bench.Place{}
	if _, step := s.Current(); step != nil && step.Datum != nil && (step.Capture.Role == "" || step.Capture.Role == g.Role) {
		place = bench.Place{Build: s.Place.Build, Step: s.Place.Step, Pass: s.Place.Pass}
		if b, ok := s.Build(s.Place.Build); ok {
			place.Pass = b.Step(step.ID).NextPass()
			if size := bench.DatumSize(b, *step); size.Valid() {
				shows = size.In(raw.Unit, raw.Places)
			}
		}
	}
	if v.Value != nil {
		shows = v.Value.In(raw.Unit, raw.Places)
	}
	z := &bench.Zero{Gauge: g.Name, Raw: raw, Shows: shows, Text: string(ev.Sample.Text), Frames: [][]byte{ev.Sample.Frame}, Device: g.Device}
	if _, err := z.WithZero(raw); err != nil {
		l.refuse(v, reply, fmt.Errorf("gauge %q: %w", g.Name, err))
		return
	}
	l.enqueue(ctx, task{verb: v, reply: reply, tone: "zero", words: fmt.Sprintf("zero of %s: it reads %s there", g.Name, shows),
		drafts: []draft{func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.ZeroSet, Place: place, By: v.By, Zero: z}
		}}})
}

// refuse says no, in words, to whoever asked, or on the screen where a gauge's own key did.
func (l *Loop) refuse(v bench.Verb, reply chan<- bench.Answer, err error) {
	if reply == nil {
		l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "refused", Words: err.Error()})
		return
	}
	l.answer(v, reply, bench.Answer{Words: err.Error(), Place: l.State().Place})
}

// answersKept is how many answers are kept for verbs that are asked twice.
const answersKept = 256

func (l *Loop) answer(v bench.Verb, reply chan<- bench.Answer, a bench.Answer) {
	if reply == nil {
		return
	}
	if a.OK && v.ID != "" {
		if len(l.answers) >= answersKept {
			clear(l.answers) // older verbs are remembered by the state
		}
		l.answers[v.ID] = a
	}
	reply <- a
}
