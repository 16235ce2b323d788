package bench_test

import (
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

func value(t testing.TB, s string) quantity.Value {
	t.Helper()
	v, err := quantity.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestGaugeThatSaysItIsMovingIsAskedAbout(t *testing.T) {
	r := &bench.Reading{Gauge: "scale-1", Status: "unstable", Value: value(t, "318.4 g")}
	if q := bench.Unstable(r); q == nil || !strings.Contains(q.Words, "318.4 g") {
		t.Errorf("asked %v, want a question that names the value", q)
	}
	r.Status = "stable"
	if q := bench.Unstable(r); q != nil {
		t.Errorf("a stable value is asked about: %s", q.Words)
	}
}

func TestReadingBeyondTheGaugesTravelIsAskedAbout(t *testing.T) {
	g := bench.GaugeState{Gauge: bench.Gauge{Name: "dial-1", Travel: value(t, "0.5 in")}}
	g.Zero = &bench.ZeroInForce{ID: "z", Zero: bench.Zero{Raw: value(t, "0.1 in"), Shows: value(t, "0 in")}}
	for _, tc := range []struct {
		raw   string
		asked bool
	}{{"0.6 in", false}, {"-0.4 in", false}, {"0.6001 in", true}, {"-0.4001 in", true}} {
		r := &bench.Reading{Gauge: "dial-1", Raw: value(t, tc.raw), Value: value(t, tc.raw), Zero: "z"}
		if got := bench.BeyondTravel(g, r) != nil; got != tc.asked {
			t.Errorf("%s with 0.5 in of travel from 0.1 in: asked %v, want %v", tc.raw, got, tc.asked)
		}
	}
}
