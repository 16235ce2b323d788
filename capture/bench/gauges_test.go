package bench_test

import (
	"testing"

	"thoud/capture/bench"
)

// Which gauge reads is decided once, for the bench and for the page: the chosen one, the only one, or the only one open.
func TestGaugesForPicksOnlyWhereOneIsMeant(t *testing.T) {
	g := func(name, role string, open, chosen, removed bool) bench.GaugeState {
		return bench.GaugeState{Gauge: bench.Gauge{Name: name, Role: role}, Open: open, Chosen: chosen, Removed: removed}
	}
	for _, tc := range []struct {
		name   string
		gauges []bench.GaugeState
		role   string
		want   string
	}{
		{"none", nil, "indicator", ""},
		{"the only one, though in its drawer", []bench.GaugeState{g("a", "indicator", false, false, false)}, "indicator", "a"},
		{"the only open one", []bench.GaugeState{g("a", "indicator", false, false, false), g("b", "indicator", true, false, false)}, "indicator", "b"},
		{"two open: nobody guesses", []bench.GaugeState{g("a", "indicator", true, false, false), g("b", "indicator", true, false, false)}, "indicator", ""},
		{"the chosen one, open or not", []bench.GaugeState{g("a", "indicator", true, false, false), g("b", "indicator", false, true, false)}, "indicator", "b"},
		{"a removed one is not there", []bench.GaugeState{g("a", "indicator", true, false, true), g("b", "indicator", false, false, false)}, "indicator", "b"},
		{"another role", []bench.GaugeState{g("a", "caliper", true, false, false)}, "indicator", ""},
		{"a pedal measures nothing", []bench.GaugeState{g("p", "key", true, false, false), g("a", "caliper", true, false, false)}, "", "a"},
	} {
		all, pick := bench.State{Gauges: tc.gauges}.GaugesFor(tc.role)
		got := ""
		if pick >= 0 {
			got = all[pick].Name
		}
		if got != tc.want {
			t.Errorf("%s: picked %q, want %q", tc.name, got, tc.want)
		}
	}
}
