package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/devices/simulate"
	"thoud/pipeline/bus"
	"thoud/store"
)

// crashRounds is how often the service is killed; where THOUD_LONG is set it is far more often.
func crashRounds() int {
	if os.Getenv("THOUD_LONG") != "" {
		return 500
	}
	return 10
}

// passPlan is one step of eight points that is closed on its datum: pass after pass of it can be read.
const passPlan = `
title = "Passes"
version = 1
cylinders = ["left", "right"]

[[step]]
id = "runout"
title = "Runout"
do = "Turn the shaft by hand and read."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
datum = { do = "Rest the indicator on the journal at 0.", size = "0 in", close = true, drift = "0.5 in" }

    [[step.point]]
    id = "{angle}"
    along = { angle = ["0 deg", "45 deg", "90 deg", "135 deg", "180 deg", "225 deg", "270 deg", "315 deg"] }
    title = "at {angle}"
    do = "Turn on to {angle} and read."

    [step.compute]
    method = "runout"
    per = "pass"

        [step.compute.inputs]
        angle = "@angles:*"
        reading = "@readings:*"

        [step.compute.limits]
        total_reading = { upper = "0.0015 in", source = "builder's choice" }
`

// The service is killed without warning in the middle of passes. Started again it stands where it stood; what it had
// answered or told as taken is in the ledger, once; a verb whose answer was lost is asked again and done once; the chain
// of seals and every result hold.
func TestKilledInMidPass(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	chance := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	plan := filepath.Join(t.TempDir(), "passes.toml")
	if err := os.WriteFile(plan, []byte(passPlan), 0o600); err != nil {
		t.Fatal(err)
	}
	g := openDial(t, dir)
	c := &crash{tb: t, dir: dir, done: map[string]uint64{}, heard: map[uint64]bool{}}
	c.start()
	c.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-1", Profile: dialProfile, Port: g.Path(), Known: bench.KnownPath,
		Identity: g.Path(), Role: "indicator", Sends: bench.SendsStream, Sense: 1}})
	c.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "passes", Text: passPlan}})
	kills := crashRounds()
	for round := range kills {
		if round > 0 {
			// The exclusive use of a pseudo-terminal outlives a killed process: the plug goes into a new one.
			if err := g.Replug(""); err != nil {
				t.Fatal(err)
			}
			g.Stream(sendEvery)
			c.start()
			c.goOn()
		}
		after := time.Duration(100+chance.IntN(400)) * time.Millisecond
		c.killAfter(after, chance)
		t.Logf("round %d: killed after %s, %d verbs answered, %d told, pending %q", round, after, len(c.done), len(c.heard), c.pending.Name)
	}
	if err := g.Replug(""); err != nil {
		t.Fatal(err)
	}
	c.start()
	c.goOn()
	c.stop()
	c.check()
	t.Logf("%d kills: %d verbs answered, %d entries told, nothing lost and nothing twice", kills, len(c.done), len(c.heard))
}

const dialProfile = "text-signed-decimal-unit-crlf"

// openDial plugs in a simulated indicator, whose link is in a folder, and lets it send.
func openDial(tb testing.TB, dir string) *simulate.Gauge {
	tb.Helper()
	profiles, err := service.LoadProfiles("")
	if err != nil {
		tb.Fatal(err)
	}
	g, err := simulate.Open(simulate.Options{Profile: profiles[dialProfile], Dir: dir, Name: "dial-1"})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := g.Close(); err != nil {
			tb.Error(err)
		}
	})
	g.Set(quantity.OfLength(quantity.PerMillimetre, quantity.Base(quantity.Length), 3))
	g.Stream(sendEvery)
	return g
}

// crash is a service that is killed and what its client knows of it.
type crash struct {
	tb     testing.TB
	dir    string
	cmd    *exec.Cmd
	log    *bytes.Buffer
	client *bus.Client

	done    map[string]uint64 // verbs answered as done: id → entry
	takes   []string          // of them those that took a reading, in order
	pending bench.Verb        // asked, and no answer came
	place   bench.Place       // of the last answer

	mu    sync.Mutex
	heard map[uint64]bool // entries told as committed
}

func (c *crash) start() {
	c.tb.Helper()
	c.log = &bytes.Buffer{}
	c.cmd = exec.Command("thoud", "run", "--listen=", "--state", c.dir)
	c.cmd.Stderr = c.log
	if err := c.cmd.Start(); err != nil {
		c.tb.Fatal(err)
	}
	c.tb.Cleanup(func() { _ = c.cmd.Process.Kill() }) // gone already, unless the test failed
	for end := time.Now().Add(patience); ; time.Sleep(5 * time.Millisecond) {
		var err error
		if c.client, err = bus.Dial(filepath.Join(c.dir, service.SocketName), "bench"); err == nil {
			if _, err = c.client.Status(context.Background()); err == nil {
				break
			}
			c.client.Close()
		}
		if time.Now().After(end) {
			c.tb.Fatalf("the service did not start: %v\n%s", err, c.log)
		}
	}
}

// ask asks a verb; false where no answer came because the service is gone.
func (c *crash) ask(ctx context.Context, v bench.Verb) (bench.Answer, bool) {
	c.pending = v
	a, err := c.client.Do(ctx, v)
	if err != nil {
		return a, false
	}
	c.pending = bench.Verb{}
	c.place = a.Place
	if a.OK {
		c.done[v.ID] = a.N
		if v.Name == bench.DoTake {
			c.takes = append(c.takes, v.ID)
		}
	}
	return a, true
}

func (c *crash) must(v bench.Verb) {
	c.tb.Helper()
	v.ID = service.NewID()
	if a, ok := c.ask(context.Background(), v); !ok || !a.OK {
		c.tb.Fatalf("%s: %v %s\n%s", v.Name, ok, a.Words, c.log)
	}
}

// goOn checks the place after a restart, and asks again what was left without an answer.
func (c *crash) goOn() {
	c.tb.Helper()
	st, err := c.client.Status(context.Background())
	if err != nil {
		c.tb.Fatal(err)
	}
	lost := c.pending
	if lost.ID == "" {
		if st.Place != c.place {
			c.tb.Fatalf("it stands at %s, it had answered %s", st.Place, c.place)
		}
		return
	}
	a, ok := c.ask(context.Background(), lost)
	if !ok {
		c.tb.Fatalf("%s asked again: no answer\n%s", lost.Name, c.log)
	}
	if !a.OK {
		// Not done before, and now refused: the zero is lost with the plug. Nothing may stand under its id.
		c.done[lost.ID] = 0
	}
}

// killAfter reads pass after pass until the service is killed.
func (c *crash) killAfter(after time.Duration, chance *rand.Rand) {
	c.tb.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var following sync.WaitGroup
	following.Go(func() {
		_ = c.client.Follow(ctx, func(o bench.Outcome) {
			c.mu.Lock()
			c.heard[o.N] = true
			c.mu.Unlock()
		}, nil, nil)
	})
	kill := time.AfterFunc(after, func() {
		_ = c.cmd.Process.Kill()
		_ = c.cmd.Wait() // "signal: killed"
		cancel()
	})
	defer kill.Stop()
	for {
		v := bench.Verb{ID: service.NewID(), Name: bench.DoTake}
		a, ok := c.ask(ctx, v)
		if !ok {
			break
		}
		if a.OK {
			continue
		}
		st, err := c.client.Status(ctx)
		if err != nil {
			break
		}
		switch {
		case st.Zero != "":
			v.Name = bench.DoZero
		case st.PassIs == bench.PassIsClosed:
			v.Name = bench.DoAgain
		default: // the result, or the gauge, is on its way
			time.Sleep(time.Duration(chance.IntN(5)) * time.Millisecond)
			continue
		}
		v.ID = service.NewID()
		if _, ok := c.ask(ctx, v); !ok {
			break
		}
	}
	<-ctx.Done()
	following.Wait()
	c.client.Close()
}

func (c *crash) stop() {
	c.tb.Helper()
	c.client.Close()
	if err := c.cmd.Process.Signal(os.Interrupt); err != nil {
		c.tb.Fatal(err)
	}
	if err := c.cmd.Wait(); err != nil {
		c.tb.Fatalf("stopped: %v\n%s", err, c.log)
	}
}

// check holds the ledger against what the client was told.
func (c *crash) check() {
	c.tb.Helper()
	ctx := context.Background()
	s, err := store.OpenReadOnly(ctx, filepath.Join(c.dir, service.LedgerName))
	if err != nil {
		c.tb.Fatal(err)
	}
	defer s.Close()
	rep, err := s.Verify(ctx, "bench", service.Check())
	if err != nil || len(rep.Wrong) > 0 {
		c.tb.Fatalf("verify: %v %v", err, rep.Wrong)
	}
	if q, err := s.Quarantined(ctx, "bench"); err != nil || len(q) > 0 {
		c.tb.Errorf("quarantined: %v %v", q, err)
	}
	loaded, err := s.Load(ctx, "bench")
	if err != nil || len(loaded.Odd) > 0 {
		c.tb.Errorf("fold: %v %v", err, loaded.Odd)
	}
	taken := map[string]int{} // readings under a verb
	under := map[string]int{} // entries under a verb
	inLedger := map[uint64]bool{}
	spots := map[string]int{}
	err = s.EachEntry(ctx, "bench", store.Filter{OldestFirst: true}, func(r store.EntryRow) bool {
		inLedger[r.Entry.N] = true
		if r.Entry.Verb != "" {
			under[r.Entry.Verb]++
		}
		if r.Entry.Kind == bench.ReadingTaken {
			taken[r.Entry.Verb]++
			if r.Entry.Place.Point != bench.DatumPoint { // the datum is read again whenever the zero is set anew
				spots[fmt.Sprint(r.Entry.Place)]++
			}
		}
		if r.Entry.Kind == bench.Withdrawn { // its zero was lost: the point is read again
			spots[fmt.Sprint(r.Entry.Place)]--
		}
		return true
	})
	if err != nil {
		c.tb.Fatal(err)
	}
	for _, id := range c.takes {
		if taken[id] != 1 {
			c.tb.Errorf("a take that was answered as done has %d readings in the ledger", taken[id])
		}
	}
	for id, n := range c.done {
		if n == 0 && under[id] != 0 {
			c.tb.Errorf("a verb that was refused has %d entries", under[id])
		}
		if n != 0 && under[id] == 0 {
			c.tb.Errorf("a verb that was answered as done, entry %d, has none", n)
		}
	}
	for n := range c.heard {
		if !inLedger[n] {
			c.tb.Errorf("entry %d was told as stored and is not in the ledger", n)
		}
	}
	for place, n := range spots {
		if n > 1 {
			c.tb.Errorf("%s was read %d times", place, n)
		}
	}
	c.tb.Logf("%d entries, %d readings, %d results; %d takes answered", rep.Entries, rep.Readings, rep.Results, len(c.takes))
}
