package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// hubEvent is something that happens to a hub, to a bench or to what lies between them, while the bench is at work.
type hubEvent struct {
	name  string
	short bool // is played in the short form too
	do    func(*hubTable)
	alarm string        // what the hub says of it, a pattern; "" that nothing is wrong
	stays string        // what it goes on saying; "" that nothing is wrong any more
	late  time.Duration // the latest entry may be so late
}

// hubTable is a hub and a whole bench, with somebody before the pages of either.
type hubTable struct {
	*testing.T
	hub   *hubProcess
	bench *wholeBench
	wire  *cable
	watch *copyWatch
	long  bool
	older string // a copy of the bench's folder from before
}

// away is how long something is away.
func (t *hubTable) away() time.Duration {
	if t.long {
		return 5 * time.Second
	}
	return 1500 * time.Millisecond
}

// The table of what may happen, with the whole program on both ends: a bench whose builder plays a plan, everything computed,
// with its page and the hub's looked at; the link over TLS. Of each event: how many entries the bench made meanwhile, how many of
// all it has are not at the hub or there twice, how late the latest was, and what the hub said. .ci/long plays all of it.
func TestTableOfHubEvents(t *testing.T) {
	if testing.Short() {
		t.Skip("a minute of a whole bench at work")
	}
	pages := freePort(t)
	h := newHubProcess(t, fmt.Sprintf("poll = \"500ms\"\n[monitor]\nlisten = \"127.0.0.1:%d\"\n", pages))
	tab := &hubTable{T: t, hub: h, bench: &wholeBench{tb: t, dir: filepath.Join(t.TempDir(), "state")}, wire: newCable(t, "127.0.0.1:"+h.port), long: os.Getenv("THOUD_LONG") != ""}
	inv, err := service.Invite(h.dir, wholeName, []string{tab.wire.ln.Addr().String()}, "")
	if err == nil {
		err = service.Join(tab.bench.dir, wholeName, inv)
	}
	if err != nil {
		t.Fatal(err)
	}
	h.start()
	tab.bench.start()
	t.Cleanup(tab.bench.stop)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var atBench, atHub viewer
	go atBench.look(ctx, tab.bench.at)
	go atHub.look(ctx, func() string { return fmt.Sprintf("http://127.0.0.1:%d/b/%s", pages, wholeName) })
	tab.watch = watchCopy(t, tab.bench.dir, h.dir, wholeName)
	if _, ok := tab.watch.caughtUp(patience); !ok {
		t.Fatalf("the hub got nothing\n%s", h.log)
	}
	lines := []string{fmt.Sprintf("| %-34s | %7s | %4s | %5s | %6s | %s", "event", "entries", "lost", "twice", "late s", "said")}
	for _, e := range hubEvents() {
		if e.short || tab.long {
			lines = append(lines, tab.play(e))
		}
	}
	tab.stopBench()
	t.Logf("what happened to a whole bench and its hub:\n%s", strings.Join(lines, "\n"))
	t.Logf("the page of the bench told its viewer %d times that something changed, the hub's %d times", atBench.count(), atHub.count())
	if atBench.count() == 0 || atHub.count() == 0 {
		t.Error("nobody looked at the pages")
	}
	tab.verified()
}

// play lets an event happen, waits until the copy has caught up, and holds it against the bench's own ledger.
func (t *hubTable) play(e hubEvent) string {
	t.Helper()
	t.watch.begin()
	e.do(t)
	upTo, ok := t.watch.caughtUp(5 * time.Minute)
	if !ok {
		t.Fatalf("%s: the hub has not caught up with entry %d\n%s\n%s", e.name, upTo, standing(t.hub.dir), t.hub.log)
	}
	t.watch.hear()
	entries, late, alarms := t.watch.told()
	lost, twice := held(t, t.bench.dir, t.hub.dir, wholeName, upTo)
	sealed(t, t.hub.dir, wholeName)
	words := strings.Join(alarms, "; ")
	switch {
	case lost > 0 || twice > 0:
		t.Errorf("%s: %d entries lost, %d there twice", e.name, lost, twice)
	case entries == 0:
		t.Errorf("%s: the bench did nothing meanwhile", e.name)
	case e.alarm == "" && e.stays == "" && words != "", !regexp.MustCompile(e.alarm).MatchString(words):
		t.Errorf("%s: the hub said %q, want %q", e.name, words, e.alarm)
	}
	if e.late > 0 && late > e.late {
		t.Errorf("%s: the latest entry came %s late, at most %s", e.name, late, e.late)
	}
	now := ""
	for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
		if now = standing(t.hub.dir); e.stays == "" && now == "" || e.stays != "" && regexp.MustCompile(e.stays).MatchString(now) {
			break
		}
	}
	if e.stays == "" && now != "" || !regexp.MustCompile(e.stays).MatchString(now) {
		t.Errorf("%s: afterwards the hub says %q, want %q", e.name, now, e.stays)
	}
	line := fmt.Sprintf("| %-34s | %7d | %4d | %5d | %6.1f | %.200s", e.name, entries, lost, twice, late.Seconds(), words)
	t.Log(line)
	return line
}

// verified computes everything again at the hub.
func (t *hubTable) verified() {
	s, err := store.OpenReadOnly(t.Context(), filepath.Join(t.hub.dir, store.File))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	lines, err := s.Lines(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		rep, err := s.Verify(t.Context(), l.Name, service.Check())
		if err != nil || len(rep.Wrong) > 0 {
			t.Errorf("%s at the hub: %v %v", l.Name, err, rep.Wrong)
		}
		t.Logf("%s at the hub: %d entries, %d results, %d bound and computed again", l.Name, rep.Entries, rep.Results, rep.Bound)
	}
}

// hubEvents are all of them. What changes the histories comes last.
func hubEvents() []hubEvent {
	return []hubEvent{
		{name: "none", short: true, do: func(t *hubTable) { time.Sleep(t.away()) }, late: 3 * time.Second},
		{name: "hub killed three times", short: true, do: (*hubTable).hubKilled},
		{name: "bench killed twice", short: true, do: (*hubTable).benchKilled},
		{name: "link cut", short: true, do: func(t *hubTable) { t.wire.cut(); time.Sleep(t.away()) }},
		{name: "link silent", short: true, do: func(t *hubTable) { t.wire.quiet(true); time.Sleep(t.away()); t.wire.quiet(false) }},
		{name: "link dead, nobody told", do: func(t *hubTable) { t.wire.die(); time.Sleep(t.away()) }, late: time.Minute},
		{name: "link of 60 kB/s after an absence", do: (*hubTable).slowLink},
		{name: "pages altered, replayed, another's", short: true, do: (*hubTable).badPages, alarm: `altered on its way`},
		{name: "another's key", short: true, do: (*hubTable).anothersKey},
		{name: "stream made anew", short: true, do: func(t *hubTable) { t.stopBench(); t.remove(service.BusFolder); t.goOn() }},
		{name: "ledger alone from an older copy", do: func(t *hubTable) {
			t.stopBench()
			t.bench.putBack(t.older, service.LedgerName, service.LedgerName+"-wal", service.LedgerName+"-shm")
			t.goOn()
		}},
		{name: "two machines of one name", do: (*hubTable).twoMachines, alarm: `a second machine \(.*\) answers as bench demo, and is refused`},
		{name: "folder from an older copy", short: true, do: (*hubTable).folderBack},
		{name: "the same, the hub away", short: true, do: (*hubTable).forked, alarm: `bench demo has 2 histories: after entry`, stays: `bench demo has 2 histories`},
		{name: "none, after that", short: true, do: func(t *hubTable) { time.Sleep(t.away()) }, alarm: `2 histories`, stays: `2 histories`, late: 3 * time.Second},
	}
}
