package main

import (
	"fmt"
	"os"
	"runtime"
	"testing"

	"go.uber.org/goleak"

	"thoud/capture/bench"
)

// A day of the shop in hours of work: each begins a build, measures passes of it and leaves every other one open.
const (
	hoursOfADay = 24
	shortDay    = 12 // hours where THOUD_LONG is not set: more builds than are kept in memory
	// Readings of an hour. With many more the day, which takes a minute here, would show what the stream holds of its last
	// ten minutes, every message's id and its newest block, and not what grows from day to day.
	readingsAnHour = 40
)

// What may be there at the end beyond what was there once as many builds were begun as are kept in memory: the list of all
// builds, and what the garbage collector leaves lying.
const growthAllowed = 3 << 20

// A day of work, played as fast as it goes: once as many builds are in memory as are kept there, neither memory nor
// goroutines nor descriptors grow with what is done.
func TestADayOfWorkGrowsNothing(t *testing.T) {
	hours := shortDay
	if os.Getenv("THOUD_LONG") != "" {
		hours = hoursOfADay
	}
	leaks := goleak.IgnoreCurrent()
	v := serve(t, t.TempDir())
	v.begin()
	full := bench.InWork + 2 // hours after which as many builds are in memory as ever will be
	var heap uint64
	var goroutines, open int
	taken := 0
	for hour := range hours {
		if hour > 0 {
			v.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: fmt.Sprint("day-", hour), Plan: "passes", Text: passPlan}})
		}
		v.read(readingsAnHour)
		taken += readingsAnHour
		v.settled(v.status().N)
		if hour%2 == 0 {
			v.must(bench.Verb{Name: bench.DoBuildClose, Reason: "the day goes on"})
		}
		if hour+1 == full {
			heap, goroutines, open = inUse(), runtime.NumGoroutine(), descriptors(t)
		}
	}
	gotHeap, gotGoroutines, gotOpen := inUse(), runtime.NumGoroutine(), descriptors(t)
	t.Logf("%d hours, %d readings; from hour %d to %d: heap %d to %d kB, goroutines %d to %d, descriptors %d to %d", hours, taken, full, hours,
		heap>>10, gotHeap>>10, goroutines, gotGoroutines, open, gotOpen)
	if gotHeap > heap+growthAllowed {
		t.Errorf("the heap has grown from %d to %d kB", heap>>10, gotHeap>>10)
	}
	if gotGoroutines > goroutines+4 || gotOpen > open+2 {
		t.Errorf("goroutines %d to %d, descriptors %d to %d", goroutines, gotGoroutines, open, gotOpen)
	}
	v.stop()
	whole(t, v.dir, taken)
	if err := goleak.Find(leaks); err != nil {
		t.Error(err)
	}
}

// inUse is what is in use of the heap once all garbage is gone.
func inUse() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
