package monitor_test

import (
	"context"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// A watcher that does not keep up is told the newest outcome all the same, and nobody waits for it.
func TestASlowWatcherIsToldTheNewest(t *testing.T) {
	var all monitor.Watchers
	ctx, cancel := context.WithCancel(t.Context())
	slow := all.Watch(ctx)
	const told = 1000
	for n := range uint64(told) {
		all.Tell(monitor.Event{Outcome: &bench.Outcome{N: n + 1}})
	}
	var last uint64
	for len(slow) > 0 {
		last = (<-slow).Outcome.N
	}
	if last != told {
		t.Errorf("the last outcome told is %d, want %d", last, told)
	}
	if all.Count() != 1 {
		t.Errorf("%d watch, want 1", all.Count())
	}
	cancel()
	for range slow { // ends when it is closed
	}
	all.Tell(monitor.Event{Outcome: &bench.Outcome{N: 1}})
	if all.Count() != 0 {
		t.Errorf("%d watch after the end, want none", all.Count())
	}
}
