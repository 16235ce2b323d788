package bench

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// A sweep keeps at most so many samples of each gauge, and so many bytes of each gauge's frames, so that its entry fits the
// bus: with both full the entry has about 900 kB of the 1 MiB that a message may have.
const (
	SweepSamples = 5000
	sweepBytes   = 224 << 10
)

// Sweep collects the values of a gauge, and where two are paired of an angle gauge, while the part is turned by hand. It
// is added to by one goroutine; a copy of it may be read by others.
type Sweep struct {
	Place  Place // under which its reading is kept
	Mode   plan.Mode
	Gauge  string
	Angle  string // the angle gauge; "" where there is none
	Began  int64  // µs since 1970
	Values []Sampled
	Angles []Sampled

	frames, angleFrames []byte

	first Sample
	gone  float64 // degrees turned so far
}

// Sampled is one value of a sweep and when it came.
type Sampled struct {
	At    int64
	Value quantity.Value
}

// Takes reports whether a gauge's values belong to the sweep.
func (s *Sweep) Takes(gauge string) bool {
	return s != nil && (gauge == s.Gauge || s.Angle != "" && gauge == s.Angle)
}

// Add keeps a value of one of the sweep's gauges. ends says why the sweep ends by itself with it, "" where it goes on.
func (s *Sweep) Add(gauge string, v Sample) (ends string) {
	at := Sampled{v.At, v.Value}
	if gauge == s.Angle {
		s.Angles = append(s.Angles, at)
		s.angleFrames = append(s.angleFrames, v.Frame...)
		if n := len(s.Angles); n > 1 {
			s.gone += math.Remainder(s.Angles[n-1].Value.Float()-s.Angles[n-2].Value.Float(), 360)
		}
		if s.Mode == plan.Swing && s.Turned() >= 360 {
			return "ended by itself after a full turn"
		}
		return s.full(len(s.Angles), len(s.angleFrames)+len(v.Frame))
	}
	if len(s.Values) == 0 {
		s.first = v
	}
	s.Values = append(s.Values, at)
	s.frames = append(s.frames, v.Frame...)
	return s.full(len(s.Values), len(s.frames)+len(v.Frame))
}

// full says why a sweep ends where one gauge more would not fit its entry. Its bytes are kept whole or the sweep ends: a
// trace whose bytes are kept in part could not be read again from them.
func (s *Sweep) full(samples, withNext int) string {
	switch {
	case samples >= SweepSamples:
		return fmt.Sprintf("ended by itself at %d samples: turn a little faster", SweepSamples)
	case withNext > sweepBytes:
		return fmt.Sprintf("ended by itself at %d kB of what the gauge sends: turn a little faster", sweepBytes>>10)
	}
	return ""
}

// Turned is how far the angle gauge has gone since the sweep began, in degrees, without sign.
func (s *Sweep) Turned() float64 { return math.Abs(s.gone) }

// reading makes the sweep's reading: the greatest, the least, their difference, or the whole trace. Every value is
// referred to the zero that counts.
func (s *Sweep) reading(step plan.Step, g GaugeState, angleZero *ZeroInForce) (*Reading, error) {
	if len(s.Values) < 3 {
		return nil, fmt.Errorf("the sweep has %d values, at least 3 are wanted: turn more slowly, and press again only at the end", len(s.Values))
	}
	r := &Reading{Gauge: g.Name, Channel: s.first.Channel, Mode: string(s.Mode), Text: s.first.Text,
		Frames: [][]byte{s.frames}, Samples: &Samples{Unit: s.Values[0].Value.Unit.Code, Places: s.Values[0].Value.Places}}
	kept := s.Values
	if s.Mode == plan.Trace {
		var err error
		if kept, r.Samples.Angle, err = s.paired(angleZero); err != nil {
			return nil, err
		}
		r.Samples.Gaps = gapWords(r.Samples.Angle)
		s.keepAngles(r.Samples, angleZero)
	}
	low, high, err := s.keep(r, kept, step, g)
	if err != nil {
		return nil, err
	}
	switch s.Mode {
	case plan.Highest:
		r.Raw = high
	case plan.Lowest:
		r.Raw = low
	case plan.Swing, plan.Stops:
		d, err := high.Sub(low)
		if err != nil {
			return nil, err
		}
		r.Raw, r.Value, r.Zero = high, d, ""
		return r, nil
	case plan.Trace:
		r.Raw = kept[len(kept)-1].Value
	default:
		return nil, fmt.Errorf("the bench does not know how to read the mode %q", s.Mode)
	}
	r.Value = r.Raw
	return r, againstZero(step, s.Place, g, r)
}

// keepAngles keeps what the angle gauge sent.
func (s *Sweep) keepAngles(into *Samples, zero *ZeroInForce) {
	into.Sent, into.AngleGauge, into.AngleFrames = len(s.Values), s.Angle, s.angleFrames
	for _, a := range s.Angles {
		into.AngleAt = append(into.AngleAt, a.At-s.Began)
	}
	if zero != nil {
		into.AngleZero = zero.ID
	}
}

// keep puts the samples into the reading, each against the zero, and finds the least and the greatest raw value.
func (s *Sweep) keep(r *Reading, kept []Sampled, step plan.Step, g GaugeState) (low, high quantity.Value, err error) {
	low, high = kept[0].Value, kept[0].Value
	for _, at := range kept {
		if at.Value.Unit.Code != low.Unit.Code {
			return low, high, fmt.Errorf("gauge %q changed its unit during the sweep: nothing is taken, begin it again", g.Name)
		}
		one := &Reading{Raw: at.Value, Value: at.Value}
		if err := againstZero(step, s.Place, g, one); err != nil {
			return low, high, err
		}
		r.Zero = one.Zero
		r.Samples.At = append(r.Samples.At, at.At-s.Began)
		r.Samples.Value = append(r.Samples.Value, one.Value.N)
		if at.Value.N < low.N {
			low = at.Value
		}
		if at.Value.N > high.N {
			high = at.Value
		}
	}
	return low, high, nil
}

// paired gives the values that lie between two angles in time, each with its angle by interpolation, in thousandths of
// a degree; an angle gauge that wraps at 360° or 720° is followed round.
func (s *Sweep) paired(zero *ZeroInForce) ([]Sampled, []int64, error) {
	if len(s.Angles) < 2 {
		return nil, nil, fmt.Errorf("the angle gauge %q sent %d values during the sweep: is it switched on?", s.Angle, len(s.Angles))
	}
	angles, err := s.unwrapped(zero)
	if err != nil {
		return nil, nil, err
	}
	var kept []Sampled
	var out []int64
	for _, v := range s.Values {
		i, exact := slices.BinarySearchFunc(s.Angles, v.At, func(a Sampled, t int64) int { return int(min(1, max(-1, a.At-t))) })
		switch {
		case exact:
			kept, out = append(kept, v), append(out, int64(math.Round(angles[i]*1000)))
			continue
		case i == 0 || i == len(s.Angles):
			continue // before the first or after the last angle: nothing is extrapolated
		}
		t0, t1 := s.Angles[i-1].At, s.Angles[i].At
		w := float64(v.At-t0) / float64(t1-t0)
		kept = append(kept, v)
		out = append(out, int64(math.Round((angles[i-1]+w*(angles[i]-angles[i-1]))*1000)))
	}
	if len(kept) < 3 {
		return nil, nil, fmt.Errorf("only %d values of %q lie between angles of %q: do both send while you turn?", len(kept), s.Gauge, s.Angle)
	}
	return kept, out, nil
}

// unwrapped gives the angles in degrees, against their zero, without the jump where the gauge begins its turn anew.
func (s *Sweep) unwrapped(zero *ZeroInForce) ([]float64, error) {
	angles := make([]float64, len(s.Angles))
	for i, a := range s.Angles {
		if a.Value.Kind() != quantity.Angle {
			return nil, fmt.Errorf("gauge %q gives %s, an angle is wanted", s.Angle, a.Value.Kind())
		}
		angles[i] = a.Value.Float()
		if zero != nil {
			angles[i] += zero.Shows.Float() - zero.Raw.Float()
		}
		if i > 0 {
			angles[i] = angles[i-1] + math.Remainder(angles[i]-angles[i-1], 360)
		}
	}
	return angles, nil
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
