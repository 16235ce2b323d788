package capture

import (
	"testing"

	"thoud/capture/bench"
	"thoud/devices"
)

// TestATaughtProfileIsKnownAtOnce: a gauge may be registered by a profile that was learnt while the bench runs, without a new
// start; who looked at the profiles before sees the old ones unchanged.
func TestATaughtProfileIsKnownAtOnce(t *testing.T) {
	l := NewLoop("bench-1", bench.State{}, bench.Chain{}, bench.Results{})
	l.Profiles = map[string]devices.Profile{}
	l.held.manners = map[string]bench.Manners{}
	before := l.Profiles
	g := bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "old-dial", Profile: "old-dial", Role: "indicator", Known: bench.KnownPath, Identity: "/dev/x", Port: "/dev/x", Sends: bench.SendsKey, Sense: 1}}
	if _, err := bench.Decide(l.scene(l.held, nil), g); err == nil {
		t.Fatal("registered by a profile that is not there")
	}
	all, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	p := all[0]
	p.Name = "old-dial"
	taught(l, p)
	if _, err := bench.Decide(l.scene(l.held, nil), g); err != nil {
		t.Errorf("after it was taught: %v", err)
	}
	if len(before) != 0 {
		t.Errorf("the old list was changed: %v", before)
	}
}
