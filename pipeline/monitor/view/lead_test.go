package view_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// On a new machine the page leads: first a gauge, then an engine, then a build; what is done is said, and where a build was
// begun before nobody is led.
func TestANewMachineIsLed(t *testing.T) {
	s := bench.State{Bench: "new"}
	lead := func() (now, done string) {
		v := view.Of(bench.Scene{State: s}, nil)
		for _, l := range v.Lead {
			done += l.Page
			if l.Done {
				done += "+"
			}
			done += " "
		}
		return v.Now, strings.TrimSpace(done)
	}
	say := func(wantNow, wantDone string) {
		t.Helper()
		if now, done := lead(); !strings.Contains(now, wantNow) || done != wantDone {
			t.Errorf("%q, %q; want %q, %q", now, done, wantNow, wantDone)
		}
	}
	say("Plug in a gauge", "gauges engine builds")
	s.Gauges = []bench.GaugeState{{Gauge: bench.Gauge{Name: "dial-1"}, Removed: true}}
	say("Plug in a gauge", "gauges engine builds")
	s.Gauges[0].Removed = false
	say("which engine", "gauges+ engine builds")
	s.Recorded = []bench.EngineRow{{}}
	say("Start a build", "gauges+ engine+ builds")
	s.Index = []bench.BuildRow{{Job: "17", Closed: 3}}
	say("Start a build, or go to one.", "")
}
