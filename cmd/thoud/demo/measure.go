package demo

import (
	"context"
	"fmt"
	"math"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// measure rests the gauge on the datum or on the point at hand and gives thoud its reading.
func (b *Builder) measure(ctx context.Context, step plan.Step, st bench.Status) error {
	part := b.Engine.Part(step)
	if part == nil || part.Shows == nil {
		return fmt.Errorf("demo: the workshop has nothing to measure at step %s", step.ID)
	}
	next := nextPlace(st)
	point := next.Point
	switch {
	case firstAgain(st):
		point = st.Reading.Place.Point
	case point == "":
		point = firstMissing(st)
	}
	mode, role := step.ModeOf(point), step.RoleOf(point)
	hand, ok := b.Gauges[role]
	if !ok {
		return fmt.Errorf("demo: the workshop has no %s", role)
	}
	if st.Zero != "" {
		b.Say("%s", st.Zero)
		return b.zero(ctx, step.At(point), hand)
	}
	if point == bench.DatumPoint {
		if err := b.rest(ctx, hand, step.Datum.Size.Float()); err != nil {
			return err
		}
		return b.press(ctx, step, hand)
	}
	at := b.Engine.At(step, b.swapped(step, point, max(next.Pass, 1)), max(next.Pass, 1))
	if part.Fresh != nil && part.Fresh(at) {
		if err := b.zero(ctx, step.At(point), hand); err != nil {
			return err
		}
	}
	switch mode {
	case plan.Keyed:
		v := counted(hand.res, part.Shows(at)+hand.Errs.At(step, at.Point, b.Care))
		return b.do(ctx, bench.Verb{Name: bench.DoKey, Gauge: hand.Name, Value: &v})
	case plan.Bracket:
		goes, stops := hand.Errs.Bracket(hand.res, part.Shows(at))
		return b.do(ctx, bench.Verb{Name: bench.DoBracket, Gauge: hand.Name, Goes: &goes, Stops: &stops})
	case plan.Crossings:
		return b.crossing(ctx, step, at, hand, part.Shows(at))
	case plan.Swing, plan.Stops:
		return b.swing(ctx, hand, part.Shows(at)+hand.Errs.At(step, at.Point, b.Care))
	case plan.Trace:
		return b.trace(ctx, step, part, at, hand)
	}
	if err := b.approach(ctx, step, part, at, hand); err != nil {
		return err
	}
	if err := b.rest(ctx, hand, part.Shows(at)+hand.Errs.At(step, at.Point, b.Care)); err != nil {
		return err
	}
	if mode == plan.Settle && b.Pace > 0 {
		// Held still for a moment the reading is taken by itself, maybe while the hand was still being steadied.
		now, err := b.Service.Status(ctx)
		if err != nil {
			return err
		}
		if movedOn(st, now) {
			b.n = max(b.n, now.N)
			return nil
		}
		if st.Points[0].Value != "" {
			return b.hold(ctx, st, step, hand)
		}
	}
	return b.press(ctx, step, hand)
}

// nextPlace is where the next reading belongs: in the pass that it opens, or on the other side where the one at hand waits.
func nextPlace(st bench.Status) bench.Place {
	if r := st.Reading; r != nil && r.Place.Point != "" {
		return r.Place
	}
	return st.Place
}

func firstMissing(st bench.Status) string {
	for _, p := range st.Points {
		if p.Value == "" {
			return p.Point
		}
	}
	return ""
}

// zero rests a gauge on the datum, or on the work where a point asks for that, and sets its zero.
func (b *Builder) zero(ctx context.Context, step plan.Step, hand *Hand) error {
	at := 0.0
	if step.Datum != nil {
		at = step.Datum.Size.Float()
	}
	if err := b.rest(ctx, hand, at); err != nil {
		return err
	}
	st, err := b.wait(ctx, func(bench.Status) bool { return true })
	if err != nil {
		return err
	}
	if err := b.do(ctx, bench.Verb{Name: bench.DoZero, Gauge: hand.Name}); err != nil {
		return err
	}
	if hand.Sends == bench.SendsKey {
		return b.dataKey(ctx, hand, func(now bench.Status) bool { return now.N > st.N })
	}
	return nil
}

// rest puts the gauge where it reads x more than on its datum.
func (b *Builder) rest(ctx context.Context, h *Hand, x float64) error {
	if err := h.put(ctx, x); err != nil {
		return err
	}
	b.pause(ctx)
	if b.Pace > 0 && h.Sends == bench.SendsStream {
		return h.put(ctx, x)
	}
	return nil
}

// press gives the reading: by the gauge's own data key where it has one, by the pedal at the indicator, where both hands
// are busy, otherwise at the screen.
func (b *Builder) press(ctx context.Context, step plan.Step, hand *Hand) error {
	st, err := b.wait(ctx, func(bench.Status) bool { return true })
	if err != nil {
		return err
	}
	switch {
	case hand.Sends == bench.SendsKey:
		return b.dataKey(ctx, hand, func(now bench.Status) bool { return movedOn(st, now) })
	case hand.Role == "indicator" && b.Pedal != nil:
		if err := b.Pedal.Key("pedal"); err != nil {
			return err
		}
		now, err := b.wait(ctx, func(now bench.Status) bool { return movedOn(st, now) })
		b.n = max(b.n, now.N)
		return err
	}
	return b.do(ctx, bench.Verb{Name: bench.DoTake, Gauge: hand.Name})
}

// movedOn reports whether a reading was taken: the bench stands at another point, or the pass has ended, or something is
// asked. (The pass that it opened alone is no reading.)
func movedOn(before, now bench.Status) bool {
	a, z := before.Place, now.Place
	ended := now.PassIs != before.PassIs && (now.PassIs == bench.PassIsClosed || now.PassIs == bench.PassIsVoid)
	return now.N > before.N && (ended || firstAgain(before) || len(now.Asked) > 0 || z.Step != a.Step || z.Point != a.Point || z.Seating != a.Seating)
}

// firstAgain reports whether a first point that was out is asked for once more, before the point that comes next.
func firstAgain(st bench.Status) bool {
	r := st.Reading
	return r != nil && !r.Opens && st.PassIs == bench.PassIsOpen && r.Place.Step == st.Place.Step && r.Place.Point != "" && r.Place.Point != st.Place.Point
}

// dataKey presses the gauge's own key, and once more where nothing comes of it.
func (b *Builder) dataKey(ctx context.Context, hand *Hand, done func(bench.Status) bool) error {
	for end := time.Now().Add(patience); time.Now().Before(end) && ctx.Err() == nil; {
		if err := hand.Send(); err != nil {
			return err
		}
		for again := time.Now().Add(time.Second); time.Now().Before(again); time.Sleep(2 * time.Millisecond) {
			st, err := b.Service.Status(ctx)
			if err != nil {
				return err
			}
			if done(st) {
				b.n = max(b.n, st.N)
				return nil
			}
		}
	}
	return fmt.Errorf("demo: thoud does not take the data key of %s", hand.Name)
}

// hold holds still until thoud has taken the reading by itself; st is how the bench stood before the gauge was moved.
func (b *Builder) hold(ctx context.Context, st bench.Status, step plan.Step, hand *Hand) error {
	for end := time.Now().Add(3 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		now, err := b.Service.Status(ctx)
		if err != nil {
			return err
		}
		if movedOn(st, now) {
			b.n = max(b.n, now.N)
			return nil
		}
	}
	return b.press(ctx, step, hand) // he never left the place, so thoud does not take it for a new one
}

// approach moves a part under the gauge that stands on it, at a pace to be watched, from where it was last read to where
// the hand leaves it.
func (b *Builder) approach(ctx context.Context, step plan.Step, part *Part, at At, hand *Hand) error {
	key := "stood " + step.ID + " " + at.Point
	now := part.Shows(at)
	from, was := b.stood[key]
	b.stood[key] = now
	if b.Pace == 0 || at.Pass < 2 || step.Compute == nil || step.Compute.ApproachFigure == "" {
		return nil
	}
	if !was {
		from = hand.stands
		if from == 0 {
			from = now + 0.5
		}
	}
	const strokes = 18
	for i := range strokes {
		part := 1 - math.Pow(0.8, float64(i)) // quick at first, slower towards the end
		if err := hand.put(ctx, from+(now-from)*part); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(b.Pace / 6):
		}
	}
	return nil
}

// crossing turns the crankshaft in the running direction until the indicator passes the point's height, and types what the
// wheel shows there.
func (b *Builder) crossing(ctx context.Context, step plan.Step, at At, hand *Hand, shows float64) error {
	wheel, ok := b.Gauges[plan.WheelRole]
	if !ok {
		return fmt.Errorf("demo: the workshop has no %s", plan.WheelRole)
	}
	pt, _ := step.Point(at.Point)
	height, way := pt.Height.Float(), 1.0
	if pt.Flank == plan.Falling {
		way = -1
	}
	for _, short := range []float64{0.6, 0.3, 0.1, 0} {
		if err := hand.put(ctx, height-way*short); err != nil {
			return err
		}
	}
	v := counted(wheel.res, shows+wheel.Errs.At(step, at.Point, b.Care))
	return b.do(ctx, bench.Verb{Name: bench.DoKey, Gauge: wheel.Name, Value: &v})
}

// swing moves what the gauge stands on to and fro, between two places so far apart, twice.
func (b *Builder) swing(ctx context.Context, hand *Hand, apart float64) error {
	if err := hand.put(ctx, 0); err != nil {
		return err
	}
	if err := b.do(ctx, bench.Verb{Name: bench.DoSweep, Gauge: hand.Name}); err != nil {
		return err
	}
	hand.hush()
	defer hand.speak()
	for _, x := range []float64{0, apart / 2, apart, apart / 3, 0, apart, 0} {
		if err := hand.put(ctx, x); err != nil {
			return err
		}
		if b.Pace > 0 {
			time.Sleep(b.Pace / 20)
		}
	}
	return b.do(ctx, bench.Verb{Name: bench.DoSweep, Gauge: hand.Name})
}

// trace turns the crankshaft through a curve, stop and go, with both gauges speaking at every stop.
func (b *Builder) trace(ctx context.Context, step plan.Step, part *Part, at At, hand *Hand) error {
	c := part.Curve
	angle, ok := b.Gauges[step.Capture.Angle]
	if c == nil || !ok {
		return fmt.Errorf("demo: the workshop has no curve, or no %s, for step %s", step.Capture.Angle, step.ID)
	}
	by := 2.5
	if b.Pace == 0 {
		by = 5
	}
	err := hand.Errs.At(step, at.Point, b.Care) // one seating
	wheelErr := angle.Errs.Common(step)
	stop := func(d float64) error {
		wheel := d + c.Wheel() + wheelErr
		if e := angle.put(ctx, wheel); e != nil {
			return e
		}
		if e := hand.put(ctx, c.Of(at, d)+err); e != nil {
			return e
		}
		time.Sleep(time.Millisecond) // so that what was read last has its time before the shaft goes on
		return angle.put(ctx, wheel)
	}
	from, to, step1 := c.From, c.To, by
	if at.Name == "back" {
		from, to, step1 = c.To, c.From, -by
	}
	if e := stop(from); e != nil {
		return e
	}
	if e := b.do(ctx, bench.Verb{Name: bench.DoSweep, Gauge: hand.Name}); e != nil {
		return e
	}
	hand.hush()
	angle.hush()
	defer hand.speak()
	defer angle.speak()
	for i := 0; i <= int(math.Round((to-from)/step1)); i++ {
		if e := stop(from + float64(i)*step1); e != nil {
			return e
		}
		if b.Pace > 0 {
			time.Sleep(b.Pace / 80)
		}
	}
	return b.do(ctx, bench.Verb{Name: bench.DoSweep, Gauge: hand.Name})
}
