package capture

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/capture/plan"
)

// A sweep keeps at most so many samples, and so many bytes of frames, so that its entry fits the bus.
const (
	sweepSamples = 5000
	sweepBytes   = 256 << 10
)

// sweep collects the values of a gauge, and where two are paired of an angle gauge, while the part is turned by hand.
type sweep struct {
	spot   spot
	mode   plan.Mode
	gauge  string
	angle  string // the angle gauge; "" where there is none
	began  time.Time
	values []sampled
	angles []sampled
	frames []byte
	first  line.Event
	gone   float64 // degrees turned so far
}

type sampled struct {
	at time.Time
	v  quantity.Value
}

// isSweep reports whether a mode collects values rather than taking one.
func isSweep(m plan.Mode) bool {
	return m == plan.Highest || m == plan.Lowest || m == plan.Swing || m == plan.Trace
}

// sweepVerb begins a sweep, or ends the one that runs and takes its reading.
func (l *Loop) sweepVerb(ctx context.Context, v bench.Verb, reply chan<- bench.Answer, sp spot, g bench.GaugeState) {
	if l.sweep != nil {
		if l.catchUp(ctx); l.sweep == nil {
			l.refuse(v, reply, errors.New("the sweep has ended already"))
			return
		}
		l.endSweep(ctx, v, reply, "")
		return
	}
	now, err := l.newest(g)
	if err == nil {
		err = againstZero(sp, g, &bench.Reading{Gauge: g.Name, Raw: now.Sample.Value, Value: now.Sample.Value})
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	s := &sweep{spot: sp, mode: sp.mode(), gauge: g.Name, began: l.Now()}
	if role := sp.step.Capture.Angle; role != "" {
		a, err := l.gaugeFor(role)
		if err == nil {
			_, err = l.newest(a)
		}
		if err != nil {
			l.refuse(v, reply, fmt.Errorf("the angle: %w", err))
			return
		}
		s.angle = a.Name
	} else if s.mode == plan.Trace {
		l.refuse(v, reply, fmt.Errorf("step %s traces, but names no angle gauge: its plan wants capture.angle", sp.step.ID))
		return
	}
	l.sweep = s
	l.answer(v, reply, bench.Answer{OK: true, Words: "the sweep runs: turn by hand, plugs out, and press again at the end", Place: l.State().Place})
	l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "sweep", Words: "the sweep runs: turn by hand, then press again"})
}

// catchUp hears what the lines told before now: the values up to the press that ends a sweep belong to it.
func (l *Loop) catchUp(ctx context.Context) {
	for n := len(l.lines); n > 0 && l.sweep != nil; n-- {
		l.onEvent(ctx, <-l.lines)
	}
}

// sweeping feeds a running sweep; true where the sample belonged to it.
func (l *Loop) sweeping(ctx context.Context, ev line.Event) bool {
	s := l.sweep
	if s == nil || ev.Gauge != s.gauge && ev.Gauge != s.angle {
		return false
	}
	at := sampled{ev.At, ev.Sample.Value}
	if ev.Gauge == s.angle {
		s.angles = append(s.angles, at)
		if s.mode == plan.Swing && s.turned() >= 360 {
			l.endSweep(ctx, bench.Verb{Name: bench.DoSweep, By: "bench"}, nil, "ended by itself after a full turn")
		}
		return true
	}
	if len(s.values) == 0 {
		s.first = ev
	}
	s.values = append(s.values, at)
	if len(s.frames)+len(ev.Sample.Frame) <= sweepBytes {
		s.frames = append(s.frames, ev.Sample.Frame...)
	}
	l.watch.sweeping(s.gauge, len(s.values))
	if len(s.values) >= sweepSamples {
		l.endSweep(ctx, bench.Verb{Name: bench.DoSweep, By: "bench"}, nil, fmt.Sprintf("ended by itself at %d samples: turn a little faster", sweepSamples))
	}
	return true
}

// turned is how far the angle gauge has gone since the sweep began, in degrees.
func (s *sweep) turned() float64 {
	n := len(s.angles)
	if n > 1 {
		s.gone += math.Remainder(s.angles[n-1].v.Float()-s.angles[n-2].v.Float(), 360)
	}
	return math.Abs(s.gone)
}

// dropSweep ends a sweep whose gauge went away: nothing is taken from it.
func (l *Loop) dropSweep(gauge string) {
	if s := l.sweep; s != nil && (s.gauge == gauge || s.angle == gauge) {
		l.sweep = nil
		l.watch.sweeping(s.gauge, 0)
		l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "fault", Words: fmt.Sprintf("gauge %q went away during the sweep: nothing is taken, begin it again", gauge)})
	}
}

func (l *Loop) endSweep(ctx context.Context, v bench.Verb, reply chan<- bench.Answer, why string) {
	s := l.sweep
	l.sweep = nil
	l.watch.sweeping(s.gauge, 0)
	g, ok := l.State().Gauge(s.gauge)
	if !ok {
		l.refuse(v, reply, fmt.Errorf("gauge %q is no longer registered", s.gauge))
		return
	}
	if now, err := l.nextSpot(); err != nil || now.place != s.spot.place {
		l.refuse(v, reply, errors.New("the bench has moved on since the sweep began: nothing is taken"))
		return
	}
	r, err := s.reading(g, l.angleZero(s.angle))
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	if why != "" {
		r.Samples.Ended = why
	}
	words := fmt.Sprintf("%s: %s, %d samples", s.spot.place, r.Value, len(r.Samples.Value))
	if r.Samples.Gaps != "" {
		words += "; " + r.Samples.Gaps
	}
	l.enqueue(ctx, task{verb: v, reply: reply, drafts: append(l.takeDrafts(s.spot, r, v.By), l.closeDraft), tone: "taken", words: words})
}

func (l *Loop) angleZero(name string) *bench.ZeroInForce {
	if g, ok := l.State().Gauge(name); ok {
		return g.Zero
	}
	return nil
}

// reading makes the sweep's reading: the greatest, the least, their difference, or the whole trace. Every value is
// referred to the zero in force.
func (s *sweep) reading(g bench.GaugeState, angleZero *bench.ZeroInForce) (*bench.Reading, error) {
	if len(s.values) < 3 {
		return nil, fmt.Errorf("the sweep has %d values, at least 3 are wanted: turn more slowly, and press again only at the end", len(s.values))
	}
	r := &bench.Reading{Gauge: g.Name, Channel: s.first.Sample.Channel, Mode: string(s.mode), Text: string(s.first.Sample.Text),
		Frames: [][]byte{s.frames}, Samples: &bench.Samples{Unit: s.values[0].v.Unit.Code, Places: s.values[0].v.Places}}
	kept := s.values
	if s.mode == plan.Trace {
		var err error
		if kept, r.Samples.Angle, err = s.paired(angleZero); err != nil {
			return nil, err
		}
		r.Samples.Gaps = gapWords(r.Samples.Angle)
	}
	low, high := kept[0].v, kept[0].v
	for _, at := range kept {
		if at.v.Unit.Code != low.Unit.Code {
			return nil, fmt.Errorf("gauge %q changed its unit during the sweep: nothing is taken, begin it again", g.Name)
		}
		one := &bench.Reading{Raw: at.v, Value: at.v}
		if err := againstZero(s.spot, g, one); err != nil {
			return nil, err
		}
		r.Zero = one.Zero
		r.Samples.At = append(r.Samples.At, at.at.Sub(s.began).Microseconds())
		r.Samples.Value = append(r.Samples.Value, one.Value.N)
		if at.v.N < low.N {
			low = at.v
		}
		if at.v.N > high.N {
			high = at.v
		}
	}
	switch s.mode {
	case plan.Highest:
		r.Raw = high
	case plan.Lowest:
		r.Raw = low
	case plan.Swing:
		d, err := high.Sub(low)
		if err != nil {
			return nil, err
		}
		r.Raw, r.Value, r.Zero = high, d, ""
		return r, nil
	default:
		r.Raw = kept[len(kept)-1].v
	}
	r.Value = r.Raw
	return r, againstZero(s.spot, g, r)
}

// paired gives the values that lie between two angles in time, each with its angle by interpolation, in thousandths of
// a degree; an angle gauge that wraps at 360° or 720° is followed round.
func (s *sweep) paired(zero *bench.ZeroInForce) ([]sampled, []int64, error) {
	if len(s.angles) < 2 {
		return nil, nil, fmt.Errorf("the angle gauge %q sent %d values during the sweep: is it switched on?", s.angle, len(s.angles))
	}
	angles := make([]float64, len(s.angles))
	for i, a := range s.angles {
		if a.v.Kind() != quantity.Angle {
			return nil, nil, fmt.Errorf("gauge %q gives %s, an angle is wanted", s.angle, a.v.Kind())
		}
		angles[i] = a.v.Float()
		if zero != nil {
			angles[i] += zero.Shows.Float() - zero.Raw.Float()
		}
		if i > 0 {
			angles[i] = angles[i-1] + math.Remainder(angles[i]-angles[i-1], 360)
		}
	}
	var kept []sampled
	var out []int64
	for _, v := range s.values {
		i, exact := slices.BinarySearchFunc(s.angles, v.at, func(a sampled, t time.Time) int { return a.at.Compare(t) })
		switch {
		case exact:
			kept, out = append(kept, v), append(out, int64(math.Round(angles[i]*1000)))
			continue
		case i == 0 || i == len(s.angles):
			continue // before the first or after the last angle: nothing is extrapolated
		}
		t0, t1 := s.angles[i-1].at, s.angles[i].at
		w := float64(v.at.Sub(t0)) / float64(t1.Sub(t0))
		kept = append(kept, v)
		out = append(out, int64(math.Round((angles[i-1]+w*(angles[i]-angles[i-1]))*1000)))
	}
	if len(kept) < 3 {
		return nil, nil, fmt.Errorf("only %d values of %q lie between angles of %q: do both send while you turn?", len(kept), s.gauge, s.angle)
	}
	return kept, out, nil
}

// widestTraceGap is the spacing of a trace from which it is named, in thousandths of a degree.
const widestTraceGap = 10_000

// gapWords names where a trace is thin.
func gapWords(angles []int64) string {
	a := slices.Sorted(slices.Values(angles))
	var words string
	for i := 1; i < len(a); i++ {
		if a[i]-a[i-1] > widestTraceGap {
			if words != "" {
				words += ", "
			}
			words += fmt.Sprintf("%.0f to %.0f deg", float64(a[i-1])/1000, float64(a[i])/1000)
		}
	}
	if words == "" {
		return ""
	}
	return "thin between " + words + ": turn more slowly there"
}
