package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// plainBench is a bench without a builder, as a process: entries are made by verbs over its socket.
type plainBench struct {
	tb     testing.TB
	name   string
	dir    string
	cmd    *exec.Cmd
	log    *bytes.Buffer
	client *bus.Client
}

func newPlainBench(tb testing.TB, name string) *plainBench {
	tb.Helper()
	b := &plainBench{tb: tb, name: name, dir: filepath.Join(tb.TempDir(), name)}
	if err := os.MkdirAll(b.dir, 0o700); err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.dir, service.SettingsName), fmt.Appendf(nil, "bench = %q\n", name), 0o600); err != nil {
		tb.Fatal(err)
	}
	return b
}

// joins invites the bench to a hub, by the commands that people give.
func (b *plainBench) joins(h *hubProcess) { b.tb.Helper(); b.joinsAt(h, "127.0.0.1:"+h.port) }

// joinsAt does that where the hub is found at another address.
func (b *plainBench) joinsAt(h *hubProcess, address string) {
	b.tb.Helper()
	file := filepath.Join(b.tb.TempDir(), "invitation")
	must(b.tb, "hub", "invite", b.name, "--state", h.dir, "--address", address, "-o", file)
	must(b.tb, "join", file, "--state", b.dir)
}

// must runs a command, which must succeed, and gives what it wrote.
func must(tb testing.TB, args ...string) string {
	tb.Helper()
	out, err := exec.Command("thoud", args...).CombinedOutput()
	if err != nil {
		tb.Fatalf("thoud %v: %v\n%s", args, err, out)
	}
	return string(out)
}

// start returns once it answers, and gives how long that took.
func (b *plainBench) start() time.Duration {
	b.tb.Helper()
	began := time.Now()
	b.log = &bytes.Buffer{}
	b.cmd = exec.Command("thoud", "run", "--listen=", "--state", b.dir)
	b.cmd.Stderr = b.log
	if err := b.cmd.Start(); err != nil {
		b.tb.Fatal(err)
	}
	b.tb.Cleanup(func() { _ = b.cmd.Process.Kill() }) // gone already, unless the test failed
	for end := time.Now().Add(time.Minute); ; time.Sleep(5 * time.Millisecond) {
		var err error
		if b.client, err = bus.Dial(filepath.Join(b.dir, service.SocketName), b.name); err == nil {
			if _, err = b.client.Status(context.Background()); err == nil {
				return time.Since(began)
			}
			b.client.Close()
		}
		if time.Now().After(end) {
			b.tb.Fatalf("bench %s did not start: %v\n%s", b.name, err, b.log)
		}
	}
}

func (b *plainBench) stop() {
	b.tb.Helper()
	b.client.Close()
	if err := b.cmd.Process.Signal(os.Interrupt); err != nil {
		b.tb.Fatal(err)
	}
	if err := b.cmd.Wait(); err != nil {
		b.tb.Fatalf("bench %s: %v\n%s", b.name, err, b.log)
	}
}

// work makes entries, two each time, and gives how long each verb took, sorted.
func (b *plainBench) work(times int) []time.Duration {
	b.tb.Helper()
	var took []time.Duration
	for range times {
		name := "dial-" + service.NewID()[24:]
		for _, v := range []bench.Verb{
			{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: name, Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}},
			{Name: bench.DoGaugeRemove, Gauge: name, Reason: "test"},
		} {
			v.ID = service.NewID()
			began := time.Now()
			if a, err := b.client.Do(context.Background(), v); err != nil || !a.OK {
				b.tb.Fatalf("%s: %v, %+v\n%s", v.Name, err, a, b.log)
			}
			took = append(took, time.Since(began))
		}
	}
	slices.Sort(took)
	return took
}

// end is the last entry of its ledger.
func (b *plainBench) end() uint64 {
	b.tb.Helper()
	l := looked{dir: b.dir, bench: b.name}
	defer l.close()
	n, ok := l.end()
	if !ok {
		b.tb.Fatalf("the ledger of %s cannot be read", b.name)
	}
	return n
}

// whole waits until a hub has all that a bench has, and holds it against the bench's own.
func (b *plainBench) whole(h *hubProcess, patience time.Duration) time.Duration {
	b.tb.Helper()
	want, began := b.end(), time.Now()
	l := looked{dir: h.dir, bench: b.name}
	defer l.close()
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		if n, ok := l.end(); ok && n >= want {
			break
		} else if time.Now().After(end) {
			b.tb.Fatalf("the hub has entry %d of %s, it has %d: %s\n%s", n, b.name, want, standing(h.dir), h.log)
		}
	}
	took := time.Since(began)
	if lost, twice := held(b.tb, b.dir, h.dir, b.name, want); lost > 0 || twice > 0 {
		b.tb.Errorf("bench %s: %d entries lost at the hub, %d twice", b.name, lost, twice)
	}
	if words := standing(h.dir); words != "" {
		b.tb.Errorf("the hub says %s", words)
	}
	return took
}

// Two hubs that know nothing of one another, and benches that have joined both, each with a link of its own to each: either
// gets everything; while one is dead, the other and the benches go on as before, and it catches up.
func TestTwoHubsEachWithItsOwnLinks(t *testing.T) {
	hubs := []*hubProcess{newHubProcess(t, "name = \"shop\"\npoll = \"500ms\"\n"), newHubProcess(t, "name = \"club\"\npoll = \"500ms\"\n")}
	benches := []*plainBench{newPlainBench(t, "one"), newPlainBench(t, "two"), newPlainBench(t, "three")}
	for _, b := range benches {
		for _, h := range hubs {
			b.joins(h)
		}
	}
	for _, h := range hubs {
		h.start()
	}
	for _, b := range benches {
		b.start()
		defer b.stop()
	}
	all := func(of ...*hubProcess) (worst time.Duration) {
		t.Helper()
		for _, h := range of {
			for _, b := range benches {
				worst = max(worst, b.whole(h, time.Minute))
			}
		}
		return worst
	}
	for _, b := range benches {
		b.work(5)
	}
	t.Logf("both hubs have all of three benches %s after the last entry", all(hubs...).Round(time.Millisecond))
	for i, h := range hubs {
		var with, without []time.Duration
		for _, b := range benches {
			with = append(with, b.work(10)...)
		}
		h.kill()
		for _, b := range benches {
			without = append(without, b.work(10)...)
		}
		slices.Sort(with)
		slices.Sort(without)
		late := all(hubs[1-i])
		st, err := benches[0].client.Status(t.Context())
		if err != nil || len(st.Hubs) != 2 || !st.Hubs[0].Linked || !st.Hubs[1].Linked {
			t.Errorf("status %+v, %v", st.Hubs, err)
		}
		h.start()
		back := all(h)
		t.Logf("hub %d dead: the other has all %s after the last entry; a verb took %s (p50) with both, %s with one; back, it had all after %s",
			i+1, late.Round(time.Millisecond), with[len(with)/2].Round(10*time.Microsecond), without[len(without)/2].Round(10*time.Microsecond), back.Round(time.Millisecond))
	}
}

// A link that is dead without a word, as behind a router that has forgotten it, is found out and made anew by the bench.
func TestALinkThatDiesWithoutAWord(t *testing.T) {
	inLong(t, "three quarters of a minute until it is found out")
	h := newHubProcess(t, "poll = \"500ms\"\n")
	wire := newCable(t, "127.0.0.1:"+h.port)
	b := newPlainBench(t, "one")
	b.joinsAt(h, wire.ln.Addr().String())
	h.start()
	b.start()
	defer b.stop()
	b.work(1)
	b.whole(h, patience)
	wire.die()
	b.work(1)
	t.Logf("its last entry was at the hub %s after it was made", b.whole(h, time.Minute).Round(100*time.Millisecond))
}
