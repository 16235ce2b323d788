package main

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/devices/simulate"
	"thoud/store"
)

// longRounds are run where THOUD_LONG is set, soakRounds otherwise.
const (
	soakRounds = 20
	longRounds = 600 // of which every third pulls the plug
)

// Plugs come out, the line crackles and the power fails at random moments while readings are taken: no reading that was
// answered as taken is lost, none is there that was not, none reads what its gauge never sent, and neither a goroutine
// nor a descriptor is left over.
func TestSoak(t *testing.T) {
	rounds := soakRounds
	if os.Getenv("THOUD_LONG") != "" {
		rounds = longRounds
	}
	seed := rand.Uint64()
	t.Logf("seed %d, %d rounds", seed, rounds)
	serve(t, t.TempDir()).stop() // what is opened once for all is open now
	leaks, open := goleak.IgnoreCurrent(), descriptors(t)
	k := &soak{chance: rand.New(rand.NewPCG(seed, 0)), sent: map[int64]bool{}, accepted: map[string]bool{}}
	dir := t.TempDir()
	k.served = serve(t, dir)
	k.plugIn(t, dir)
	for round := range rounds {
		k.round(round)
	}
	k.stop()
	if err := k.gauge.Close(); err != nil {
		t.Error(err)
	}
	k.check(t, dir)
	if err := goleak.Find(leaks); err != nil {
		t.Error(err)
	}
	if got := descriptors(t); got > open {
		t.Errorf("%d descriptors are open, %d were", got, open)
	}
}

func descriptors(tb testing.TB) int {
	tb.Helper()
	all, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		tb.Logf("not run: descriptors cannot be counted here (%v)", err)
	}
	return len(all)
}

type soak struct {
	*served
	gauge    *simulate.Gauge
	chance   *rand.Rand
	sent     map[int64]bool // what the gauge has sent, in its own counts
	value    int64
	accepted map[string]bool // verbs answered as taken
	refused  int
	events   [3]int // plugs pulled, noises on the line, power failures of the gauge
}

func (k *soak) plugIn(tb testing.TB, dir string) {
	tb.Helper()
	profiles, err := service.LoadProfiles("")
	if err != nil {
		tb.Fatal(err)
	}
	if k.gauge, err = simulate.Open(simulate.Options{Profile: profiles[dialProfile], Dir: dir, Name: "dial-1", Seed: k.chance.Uint64(),
		Knobs: simulate.Knobs{Drop: 0.02, Split: 0.2, Merge: 0.05}}); err != nil {
		tb.Fatal(err)
	}
	k.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-1", Profile: dialProfile, Port: k.gauge.Path(), Known: bench.KnownPath,
		Identity: k.gauge.Path(), Role: "indicator", Sends: bench.SendsStream, Sense: 1}})
	k.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "passes", Text: passPlan}})
}

// round takes readings, lets something happen at a random moment, and takes readings until all is well again.
func (k *soak) round(n int) {
	k.tb.Helper()
	var event sync.WaitGroup
	after := time.Duration(k.chance.IntN(150)) * time.Millisecond
	junk := make([]byte, 1+k.chance.IntN(200))
	for i := range junk {
		junk[i] = byte(k.chance.IntN(256))
	}
	event.Go(func() {
		time.Sleep(after)
		var err error
		k.events[n%3]++
		switch n % 3 {
		case 0:
			err = k.gauge.Unplug()
			time.Sleep(after)
			if err == nil {
				err = k.gauge.Replug("")
			}
		case 1:
			err = k.gauge.Raw(junk)
		case 2:
			err = k.gauge.PowerCycle(false)
		}
		if err != nil {
			k.tb.Error(err)
		}
	})
	over := make(chan struct{})
	go func() { event.Wait(); close(over) }()
	goods := 0 // readings taken since all was over
	k.eventually("readings are taken again", func() bool {
		if k.another() {
			select {
			case <-over:
				goods++
			default:
			}
		}
		return goods >= 5
	})
	<-over
}

// another sends another value and takes it; where it is refused it does what the bench says.
func (k *soak) another() bool {
	k.tb.Helper()
	ctx := context.Background()
	k.value++
	v := quantity.OfLength(k.value%20000*quantity.PerMicrometre, quantity.Base(quantity.Length), 3)
	k.sent[v.N] = true
	k.gauge.Set(v)
	_ = k.gauge.Send() // unplugged, perhaps
	verb := bench.Verb{ID: service.NewID(), Name: bench.DoTake}
	a, err := k.Do(ctx, verb)
	if err != nil {
		k.tb.Fatal(err)
	}
	if a.OK {
		k.accepted[verb.ID] = true
		return true
	}
	k.refused++
	for _, name := range []string{bench.DoZero, bench.DoAgain} {
		st := k.status()
		if name == bench.DoZero && st.Zero == "" {
			continue
		}
		if _, err := k.Do(ctx, bench.Verb{ID: service.NewID(), Name: name}); err != nil {
			k.tb.Fatal(err)
		}
	}
	return false
}

func (k *soak) check(tb testing.TB, dir string) {
	tb.Helper()
	ctx := context.Background()
	whole(tb, dir, len(k.accepted))
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	found, counts := map[string]int{}, map[bench.Kind]int{}
	err = s.EachEntry(ctx, "bench", store.Filter{}, func(r store.EntryRow) bool {
		counts[r.Entry.Kind]++
		if r.Entry.Kind == bench.ReadingTaken {
			found[r.Entry.Verb]++
			if !k.sent[r.Entry.Reading.Raw.N] {
				tb.Errorf("entry %d reads %s, which the gauge never sent", r.Entry.N, r.Entry.Reading.Raw)
			}
		}
		return true
	})
	if err != nil {
		tb.Fatal(err)
	}
	for id := range k.accepted {
		if found[id] != 1 {
			tb.Errorf("a reading that was answered as taken is %d times in the ledger", found[id])
		}
	}
	tb.Logf("%d plugs pulled, %d noises on the line, %d times without power", k.events[0], k.events[1], k.events[2])
	tb.Logf("%d readings taken, %d refused; lost %d times, back %d, zeros lost %d", len(k.accepted), k.refused,
		counts[bench.GaugeLost], counts[bench.GaugeBack], counts[bench.ZeroLost])
}
