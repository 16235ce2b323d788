package bench

import (
	"fmt"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// swept makes a sweep of 200 values over 60 angles, with zeros of both gauges, as its reading and as its bytes give it.
func swept(t *testing.T, mode plan.Mode) (Reading, SweepBytes) {
	t.Helper()
	value := func(text, unit string) quantity.Value {
		v, err := quantity.Parse(text + " " + unit)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	s := &Sweep{Mode: mode, Gauge: "dial-1", Angle: "wheel", Began: 5_000_000}
	var b SweepBytes
	b.Zero = &Zero{Gauge: "dial-1", Raw: value("0.104", "mm"), Shows: value("0.000", "mm")}
	b.AngleZero = &Zero{Gauge: "wheel", Raw: value("12.25", "deg"), Shows: value("0.00", "deg")}
	for i := range 200 {
		at := s.Began + int64(i)*20_000
		if i%3 == 1 && i/3 < 60 {
			text := fmt.Sprintf("%.2f", float64(i)*0.7+20)
			a := value(text, "deg")
			b.Angles = append(b.Angles, a)
			if why := s.Add("wheel", Sample{At: at - 4_000, Value: a, Frame: []byte(text + "\r")}); why != "" {
				t.Fatal(why)
			}
		}
		text := fmt.Sprintf("%.3f", 1.2+float64((i-90)*(90-i))*0.0001)
		v := value(text, "mm")
		b.Values = append(b.Values, v)
		if why := s.Add("dial-1", Sample{At: at, Value: v, Frame: []byte(text + "\r")}); why != "" {
			t.Fatal(why)
		}
	}
	g := GaugeState{Gauge: Gauge{Name: "dial-1"}, Zero: &ZeroInForce{ID: "zero-1", Zero: *b.Zero}}
	r, err := s.reading(plan.Step{}, g, &ZeroInForce{ID: "zero-2", Zero: *b.AngleZero})
	if err != nil {
		t.Fatal(err)
	}
	return *r, b
}

// A sweep's samples, raw value and angles are found again from its bytes; one that was changed is told, and what the bytes
// do not allow is not judged. Computed by the same program, no published example: what is held is that both ways agree and
// that a change of one shows.
func TestASweepIsFoundAgainFromItsBytes(t *testing.T) {
	for _, mode := range []plan.Mode{plan.Highest, plan.Lowest, plan.Swing, plan.Trace} {
		r, b := swept(t, mode)
		if what, derived := b.Against(r); what != "" || !derived {
			t.Errorf("%s: %q, derived %t", mode, what, derived)
		}
		forged := r
		forged.Samples = &[]Samples{*r.Samples}[0]
		forged.Samples.Value = append([]int64(nil), r.Samples.Value...)
		forged.Samples.Value[20] += 10_000
		if what, _ := b.Against(forged); !strings.Contains(what, "samples") {
			t.Errorf("%s: a changed sample: %q", mode, what)
		}
		forged = r
		forged.Raw.N += 10_000
		if what, _ := b.Against(forged); !strings.Contains(what, "its bytes give") {
			t.Errorf("%s: a changed raw value: %q", mode, what)
		}
		short := b
		short.Values = short.Values[:150]
		if what, derived := short.Against(r); what != "" || derived {
			t.Errorf("%s: bytes of an older program, kept in part: %q, derived %t", mode, what, derived)
		}
	}
	r, b := swept(t, plan.Trace)
	older := r
	older.Samples = &[]Samples{*r.Samples}[0]
	older.Samples.Sent = 0
	for _, values := range [][]quantity.Value{nil, b.Values} {
		if what, derived := (SweepBytes{Values: values}).Against(older); what != "" || derived {
			t.Errorf("a trace of an older program, %d values: %q, derived %t", len(values), what, derived)
		}
	}
	if len(r.Samples.Angle) == 0 || len(r.Samples.AngleAt) != len(b.Angles) || r.Samples.Sent != 200 || len(r.Samples.Value) == 200 {
		t.Fatalf("a trace of %d samples, %d angles, %d values sent", len(r.Samples.Value), len(r.Samples.AngleAt), r.Samples.Sent)
	}
	for name, change := range map[string]func(*Samples){
		"an angle":         func(s *Samples) { s.Angle[7] += 500 },
		"an angle's time":  func(s *Samples) { s.AngleAt[30] += 9_000 },
		"a sample's time":  func(s *Samples) { s.At[44] -= 9_000 },
		"the angle's zero": func(*Samples) { b.AngleZero.Raw.N += 100 },
	} {
		s := *r.Samples
		s.Angle, s.At, s.AngleAt = append([]int64(nil), s.Angle...), append([]int64(nil), s.At...), append([]int64(nil), s.AngleAt...)
		change(&s)
		forged := r
		forged.Samples = &s
		if what, _ := b.Against(forged); !strings.Contains(what, "deg") {
			t.Errorf("%s: %q", name, what)
		}
	}
}

// A sweep ends before what its gauges sent would no longer be kept whole.
func TestASweepEndsBeforeItsBytesDoNotFit(t *testing.T) {
	for _, gauge := range []string{"dial-1", "wheel"} {
		s := &Sweep{Mode: plan.Trace, Gauge: "dial-1", Angle: "wheel"}
		frame := make([]byte, 1000)
		n := 0
		for ; ; n++ {
			if why := s.Add(gauge, Sample{Frame: frame}); why != "" {
				break
			}
		}
		if n != sweepBytes/1000-1 || len(s.frames)+len(s.angleFrames) > sweepBytes {
			t.Errorf("%s: %d values, %d and %d bytes", gauge, n, len(s.frames), len(s.angleFrames))
		}
	}
}
