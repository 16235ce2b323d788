package bench

import (
	"fmt"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// SweepBytes are a sweep's bytes decoded again, and the zeros that counted; a zero is nil where none did.
type SweepBytes struct {
	Values, Angles  []quantity.Value
	Zero, AngleZero *Zero
}

// Against holds a sweep's reading against its own bytes: its samples, its raw value, and the angles of a trace. what says
// where they differ, "" where they agree. derived is false where the bytes do not allow it: an older program kept only the
// beginning of a long sweep's, and none of the angle gauge's.
func (b SweepBytes) Against(r Reading) (what string, derived bool) {
	s := r.Samples
	if s == nil || len(s.Value) == 0 {
		return "", false
	}
	trace := plan.Mode(r.Mode) == plan.Trace
	sent := len(s.Value)
	if trace {
		sent = s.Sent
	}
	if sent == 0 || len(b.Values) != sent {
		return "", false
	}
	begin := -1 // of the samples among the values
	for at := 0; at+len(s.Value) <= len(b.Values) && begin < 0; at++ {
		if b.sameSamples(r, b.Values[at:at+len(s.Value)]) {
			begin = at
		}
	}
	if begin < 0 {
		return "its bytes do not give the samples it says", true
	}
	values := b.Values[begin : begin+len(s.Value)]
	if what := sweepRaw(r, values); what != "" {
		return what, true
	}
	if !trace {
		return "", true
	}
	return b.angles(r, values)
}

// sameSamples compares samples with decoded values. A swing is the difference of two values and names no zero: its samples
// need only lie equally far from the values.
func (b SweepBytes) sameSamples(r Reading, values []quantity.Value) bool {
	gap := r.Samples.Value[0] - values[0].N
	for i, v := range values {
		if v.Unit.Code != r.Samples.Unit {
			return false
		}
		if m := plan.Mode(r.Mode); m == plan.Swing || m == plan.Stops {
			if r.Samples.Value[i]-v.N != gap {
				return false
			}
			continue
		}
		if b.Zero != nil {
			var err error
			if v, err = b.Zero.WithZero(v); err != nil {
				return false
			}
		}
		if r.Samples.Value[i] != v.N {
			return false
		}
	}
	return true
}

// sweepRaw finds a sweep's raw value among its values, and says where the reading has another.
func sweepRaw(r Reading, values []quantity.Value) string {
	low, high := values[0], values[0]
	for _, v := range values {
		if v.N < low.N {
			low = v
		}
		if v.N > high.N {
			high = v
		}
	}
	want := high
	switch plan.Mode(r.Mode) {
	case plan.Lowest:
		want = low
	case plan.Trace:
		want = values[len(values)-1]
	case plan.Swing, plan.Stops:
		if d, err := high.Sub(low); err == nil && d.N != r.Value.N {
			return fmt.Sprintf("its bytes swing by %s, it says %s", d, r.Value)
		}
	}
	if want.N != r.Raw.N {
		return fmt.Sprintf("its bytes give %s, it says %s", want, r.Raw)
	}
	return ""
}

// angleSlack is how far an angle may be from the one found again, in thousandths of a degree: processors round the
// interpolation differently.
const angleSlack = 1

// angles finds the angle of each sample again.
func (b SweepBytes) angles(r Reading, values []quantity.Value) (what string, derived bool) {
	s := r.Samples
	if len(b.Angles) == 0 || len(b.Angles) != len(s.AngleAt) || len(s.At) != len(values) {
		return "", false
	}
	again := &Sweep{Gauge: r.Gauge, Angle: s.AngleGauge}
	for i, v := range values {
		again.Values = append(again.Values, Sampled{At: s.At[i], Value: v})
	}
	for i, a := range b.Angles {
		again.Angles = append(again.Angles, Sampled{At: s.AngleAt[i], Value: a})
	}
	var zero *ZeroInForce
	if b.AngleZero != nil {
		zero = &ZeroInForce{Zero: *b.AngleZero}
	}
	kept, angles, err := again.paired(zero)
	if err != nil || len(kept) != len(s.Angle) {
		return "its bytes do not give as many angles as it says", true
	}
	for i, a := range angles {
		if d := a - s.Angle[i]; d > angleSlack || d < -angleSlack {
			return fmt.Sprintf("sample %d: its bytes give %.3f deg, it says %.3f deg", i+1, float64(a)/1000, float64(s.Angle[i])/1000), true
		}
	}
	return "", true
}
