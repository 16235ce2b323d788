package capture

import (
	"testing"
	"time"

	"thoud/capture/bench"
)

// A bench that is left alone is not woken: with a gauge plugged in that sends nothing, nobody looks at the clock.
func TestALoneBenchIsNotWoken(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		r.wait(time.Second)
		looks, b := 0, r.loop.newest
		b.mu.Lock()
		real := b.now
		b.now = func() time.Time { looks++; return real() }
		b.mu.Unlock()
		r.wait(10 * time.Second)
		b.mu.Lock()
		defer b.mu.Unlock()
		if looks > 0 {
			t.Errorf("the clock was looked at %d times in ten seconds", looks)
		}
	})
}
