package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"runtime/pprof"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// A day of the shop in hours of work: each begins a build, measures passes of it and leaves every other one open. The bench's
// clock runs ahead of the machine's with every reading, so that its whole day passes; the stream keeps to the machine's.
const (
	hoursOfADay = 24
	shortDay    = 12 // hours where THOUD_LONG is not set: more builds than are kept in memory
	// Readings of an hour: one every ten seconds in the long form.
	readingsAnHour      = 360
	shortReadingsAnHour = 40
)

// What may be there at the end beyond what was there once as many builds were begun as are kept in memory. The program's own
// is the list of all builds, and what the garbage collector leaves lying. The stream's server keeps the block that it
// writes, which grows to its bound once and then begins anew, and the id of every message of its last ten minutes by the
// machine's clock: a day that is played in two minutes lies within them whole.
const (
	growthAllowed = 256 << 10
	blockOfStream = 8 << 20
	idOfMessage   = 400 // bytes: it stands in a table and in a list
)

// A day of work, played as fast as it goes: once as many builds are in memory as are kept there, neither memory nor
// goroutines nor descriptors grow with what is done. THOUD_HEAP names a folder for profiles of the heap at both times.
func TestADayOfWorkGrowsNothing(t *testing.T) {
	rate := runtime.MemProfileRate
	runtime.MemProfileRate = 512 // bytes: what is small counts too
	defer func() { runtime.MemProfileRate = rate }()
	hours, readings := shortDay, shortReadingsAnHour
	if os.Getenv("THOUD_LONG") != "" {
		hours, readings = hoursOfADay, readingsAnHour
	}
	leaks := goleak.IgnoreCurrent()
	var ahead atomic.Int64
	v := serveAs(t, &service.Service{Dir: t.TempDir(), Settings: service.DefaultSettings(), Log: zerolog.Nop(),
		Ahead: func() time.Duration { return time.Duration(ahead.Load()) }})
	began := time.Now()
	v.begin()
	full := bench.InWork + 2 // hours after which as many builds are in memory as ever will be
	var then inHand
	taken := 0
	for hour := range hours {
		if hour > 0 {
			v.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: fmt.Sprint("day-", hour), Plan: "passes", Text: passPlan}})
		}
		for range readings {
			v.read(1)
			ahead.Add(int64(time.Hour) / int64(readings))
		}
		taken += readings
		v.settled(v.status().N)
		if hour%2 == 0 {
			v.must(bench.Verb{Name: bench.DoBuildClose, Reason: "the day goes on"})
		}
		if hour+1 == full {
			then = v.held("full")
		}
	}
	now := v.held("end")
	t.Logf("%d hours, %d readings, in %s; from hour %d to %d: heap %d to %d kB, the stream's server %d to %d kB, goroutines %d to %d, descriptors %d to %d",
		hours, taken, time.Since(began).Round(time.Second), full, hours, then.own>>10, now.own>>10, then.stream>>10, now.stream>>10, then.goroutines, now.goroutines, then.open, now.open)
	if now.own > then.own+growthAllowed {
		t.Errorf("the heap has grown from %d to %d kB", then.own>>10, now.own>>10)
	}
	if allowed := then.stream + blockOfStream + idOfMessage*int64(now.messages-then.messages); now.stream > allowed {
		t.Errorf("the heap of the stream's server has grown from %d to %d kB, %d kB at most are allowed", then.stream>>10, now.stream>>10, allowed>>10)
	}
	if now.goroutines > then.goroutines+4 || now.open > then.open+2 {
		t.Errorf("goroutines %d to %d, descriptors %d to %d", then.goroutines, now.goroutines, then.open, now.open)
	}
	v.dayHasPassed(hours)
	v.stop()
	whole(t, v.dir, taken)
	if err := goleak.Find(leaks); err != nil {
		t.Error(err)
	}
}

// inHand is what a process holds at one time.
type inHand struct {
	own, stream      int64  // of the heap, bytes
	messages         uint64 // that were ever sent
	goroutines, open int
}

func (v *served) held(when string) inHand {
	v.tb.Helper()
	h := inHand{messages: v.status().N, goroutines: runtime.NumGoroutine(), open: descriptors(v.tb)}
	h.own, h.stream = inUse()
	if dir := os.Getenv("THOUD_HEAP"); dir != "" {
		f, err := os.Create(filepath.Join(dir, when+".heap"))
		if err == nil {
			err = errors.Join(pprof.WriteHeapProfile(f), f.Close())
		}
		if err != nil {
			v.tb.Fatal(err)
		}
	}
	return h
}

// dayHasPassed holds the first and the last entry's time against the hours that were to pass.
func (v *served) dayHasPassed(hours int) {
	v.tb.Helper()
	s, err := store.OpenReadOnly(context.Background(), filepath.Join(v.dir, service.LedgerName))
	if err != nil {
		v.tb.Fatal(err)
	}
	defer s.Close()
	builds, err := s.Builds(context.Background(), service.DefaultSettings().Bench)
	if err != nil || len(builds) != hours {
		v.tb.Fatalf("%d builds, %v", len(builds), err)
	}
	first, last := builds[0].At, builds[len(builds)-1].At // begun at the start of the first and of the last hour
	if passed := time.Duration(last-first) * time.Microsecond; passed < time.Duration(hours-1)*time.Hour {
		v.tb.Errorf("%s passed by the entries, want %d hours", passed, hours-1)
	}
}

// inUse is what is in use of the heap once all garbage is gone: what the stream's server asked for, and all else. It is
// reckoned from samples, as the profile of the heap is.
func inUse() (own, stream int64) {
	runtime.GC()
	runtime.GC()
	records := make([]runtime.MemProfileRecord, 1<<10)
	for {
		n, ok := runtime.MemProfile(records, false)
		if ok {
			records = records[:n]
			break
		}
		records = make([]runtime.MemProfileRecord, n+1<<8)
	}
	for _, r := range records {
		if r.InUseObjects() == 0 {
			continue
		}
		size := float64(r.InUseBytes()) / float64(r.InUseObjects())
		bytes := int64(float64(r.InUseBytes()) / (1 - math.Exp(-size/float64(runtime.MemProfileRate))))
		if asked(r.Stack(), "nats-server") {
			stream += bytes
		} else {
			own += bytes
		}
	}
	return own, stream
}

// asked reports whether a function of a module is among the callers.
func asked(stack []uintptr, module string) bool {
	for frames := runtime.CallersFrames(stack); ; {
		f, more := frames.Next()
		if strings.Contains(f.Function, module) {
			return true
		}
		if !more {
			return false
		}
	}
}
