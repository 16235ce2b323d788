package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/pipeline/hub"
	"thoud/store"
)

func (t *hubTable) hubKilled() {
	for range 3 {
		t.hub.kill()
		time.Sleep(t.away() / 3)
		t.hub.start()
		time.Sleep(t.away() / 3)
	}
}

// stopBench stops the bench, and nobody has its ledger open any more.
func (t *hubTable) stopBench() {
	t.watch.leave(true) // before: what it made in its last moment is seen once it is back
	t.bench.stop()
}

// startBench starts it.
func (t *hubTable) startBench() {
	t.bench.start()
	t.watch.leave(false)
}

// goOn starts the bench and lets it work for a while.
func (t *hubTable) goOn() {
	t.startBench()
	time.Sleep(t.away())
}

func (t *hubTable) remove(name string) {
	if err := os.RemoveAll(filepath.Join(t.bench.dir, name)); err != nil {
		t.Fatal(err)
	}
}

// benchKilled kills it twice, and keeps a copy of its folder between.
func (t *hubTable) benchKilled() {
	for range 2 {
		t.bench.kill()
		t.goOn()
	}
	t.stopBench()
	t.older = t.bench.copied()
	t.goOn()
}

// slowLink lets entries pile up while the link is away, and has them come over a slow one.
func (t *hubTable) slowLink() {
	t.wire.quiet(true)
	time.Sleep(3 * t.away())
	t.wire.slow(60_000)
	defer t.wire.slow(0)
	t.wire.quiet(false)
	if n, ok := t.watch.caughtUp(3 * time.Minute); !ok {
		t.Errorf("entry %d did not come over the slow link", n)
	}
}

// badPages has another bench, invited like any, answer what it should not, one after another. It gets nothing in, and does not
// disturb the others.
func (t *hubTable) badPages() {
	inv, err := service.Invite(t.hub.dir, "bad", []string{t.wire.ln.Addr().String()}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: "bad", inv: inv}
	b.work(30)
	var first []byte
	bends := []struct {
		name, says string
		bend       func(what string, q hub.Ask, page []byte) []byte
	}{
		{"altered in the middle", "altered on its way|does not follow|seal", func(what string, _ hub.Ask, page []byte) []byte {
			return t.bent(page, what == hub.AskEntries, func(p *hub.Page) { p.Bodies[3] = bytes.Replace(p.Bodies[3], []byte("sim"), []byte("sin"), 1) })
		}},
		{"last body altered", "altered on its way", func(what string, _ hub.Ask, page []byte) []byte {
			return t.bent(page, what == hub.AskEntries, func(p *hub.Page) {
				last := len(p.Bodies) - 1
				p.Bodies[last] = bytes.Replace(p.Bodies[last], []byte("sim"), []byte("sin"), 1)
			})
		}},
		{"one left out", "the page", func(what string, _ hub.Ask, page []byte) []byte {
			return t.bent(page, what == hub.AskEntries, func(p *hub.Page) { p.Bodies = slices.Delete(p.Bodies, 1, 2) })
		}},
		{"another bench's", `says it is bench "demo"'s`, func(what string, q hub.Ask, page []byte) []byte {
			return t.bent(page, what == hub.AskEntries, func(p *hub.Page) { *p = t.pageOfDemo(q) })
		}},
		{"another's under its own name", `entry 1 of the page says it is bench "demo"'s`, func(what string, q hub.Ask, page []byte) []byte {
			return t.bent(page, what == hub.AskEntries, func(p *hub.Page) {
				head := p.Head
				*p = t.pageOfDemo(q)
				p.Bench, p.Machine = head.Bench, head.Machine
			})
		}},
		{"no page at all", "", func(string, hub.Ask, []byte) []byte { return []byte("hello") }},
	}
	now := 0
	at := make(chan int, 1)
	at <- now
	b.bend = func(what string, q hub.Ask, page []byte) []byte {
		k := <-at
		at <- k
		if k >= len(bends) {
			if what == hub.AskEntries && first == nil {
				first = page
			}
			return page
		}
		return bends[k].bend(what, q, page)
	}
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	defer b.unlink()
	for k, bent := range bends {
		<-at
		at <- k
		words := ""
		for end := time.Now().Add(patience); time.Now().Before(end) && (words == "" || !regexp.MustCompile(bent.says).MatchString(words)); time.Sleep(50 * time.Millisecond) {
			words = t.alarmOf("bad")
		}
		if !regexp.MustCompile(bent.says).MatchString(words) {
			t.Errorf("a page %s: the hub says %q, want %q", bent.name, words, bent.says)
		}
		if n := len(entriesOf(t, t.hub.dir, "bad")); n > 0 {
			t.Fatalf("a page %s: %d entries of it got in", bent.name, n)
		}
	}
	<-at
	at <- len(bends)
	t.untilEntries(b, 30)
	// An answer of before, sent again, is none to what is asked now.
	b.work(5)
	b.bend = func(what string, _ hub.Ask, page []byte) []byte {
		if what == hub.AskEntries {
			return first
		}
		return page
	}
	b.tell()
	time.Sleep(2 * time.Second)
	if n := len(entriesOf(t, t.hub.dir, "bad")); n != 30 {
		t.Errorf("a page sent again: %d entries of bad are at the hub, want its 30", n)
	}
	b.bend = nil
	t.untilEntries(b, 35)
	t.letGo("bad")
}

// bent gives a page changed.
func (t *hubTable) bent(page []byte, yes bool, change func(*hub.Page)) []byte {
	p, err := hub.ParsePage(page)
	if err != nil {
		t.Error(err)
		return page
	}
	if !yes || len(p.Bodies) < 5 {
		return page
	}
	change(&p)
	out, err := p.Bytes()
	if err != nil {
		t.Error(err)
	}
	return out
}

// pageOfDemo is the answer that the whole bench would give.
func (t *hubTable) pageOfDemo(q hub.Ask) hub.Page {
	s, err := store.OpenReadOnly(context.Background(), filepath.Join(t.bench.dir, store.File))
	if err != nil {
		t.Error(err)
		return hub.Page{}
	}
	defer s.Close()
	g, err := s.Span(context.Background(), wholeName, q.From, 30, 1<<20)
	if err != nil {
		t.Error(err)
	}
	return hub.Page{Head: hub.Head{Bench: wholeName, Machine: "sim", Known: g.Known, Before: g.Before.String(), After: g.After.String(),
		Last: g.End.N, LastSeal: g.End.Seal.String()}, Bodies: g.Bodies}
}

func (t *hubTable) alarmOf(benchName string) string {
	r, err := service.ReadHubReport(t.hub.dir)
	if err != nil {
		return ""
	}
	for _, b := range r.Benches {
		if b.Bench == benchName && len(b.Alarms) > 0 {
			return fmt.Sprint(b.Alarms)
		}
	}
	return ""
}

func (t *hubTable) untilEntries(b *simBench, want int) {
	for end := time.Now().Add(patience); ; time.Sleep(50 * time.Millisecond) {
		n := len(entriesOf(t, t.hub.dir, b.name))
		if n == want {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("%d entries of %s are at the hub, want %d: %s", n, b.name, want, t.alarmOf(b.name))
		}
		b.tell()
	}
}

// letGo takes an invitation back.
func (t *hubTable) letGo(benchName string) {
	path := filepath.Join(t.hub.dir, "invited.json")
	body, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]any
	if err := json.Unmarshal(body, &all); err != nil {
		t.Fatal(err)
	}
	delete(all, benchName)
	if body, err = json.Marshal(all); err == nil {
		err = os.WriteFile(path, body, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// anothersKey links as the bench that is at work, by the key of another one that was invited. It hears nothing that is asked of
// that bench and cannot answer for it.
func (t *hubTable) anothersKey() {
	inv, err := service.Invite(t.hub.dir, "thief", []string{t.wire.ln.Addr().String()}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: wholeName, inv: inv}
	asked := 0
	b.bend = func(string, hub.Ask, []byte) []byte { asked++; return []byte("{}\n") }
	b.work(5)
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	defer b.unlink()
	// Told as the bench, and answers forged at its subjects: neither arrives.
	for end := time.Now().Add(t.away()); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		b.tell()
		if err := b.nc.Publish(bus.HubAnswer(wholeName, "x"), []byte("{}\n")); err != nil {
			t.Error(err)
		}
	}
	if asked > 0 {
		t.Errorf("it was asked %d times in the bench's place", asked)
	}
	t.letGo("thief")
}

// twoMachines runs a copy of the bench's folder elsewhere, at work too, with the same name and key.
func (t *hubTable) twoMachines() {
	t.stopBench()
	other := &wholeBench{tb: t.T, dir: t.bench.copied(), seed: 100}
	t.startBench()
	time.Sleep(2 * time.Second) // so that the hub knows again which is the bench
	other.start()
	defer other.stop()
	time.Sleep(2 * t.away())
	if !t.long {
		time.Sleep(4 * time.Second)
	}
}

// folderBack puts back the whole folder from an older copy while the hub can be reached: before its ports open, the bench
// fetches what it lacks. (What it had done in its last moment, and the hub had not yet, went with the folder.)
func (t *hubTable) folderBack() {
	t.stopBench()
	before := entriesOf(t, t.hub.dir, wholeName)
	t.bench.putBack(t.older)
	t.startBench()
	t.says("were fetched from hub hub")
	now := entriesOf(t, t.bench.dir, wholeName)
	if len(now) < len(before) || now[len(before)-1] != before[len(before)-1] {
		t.Errorf("the hub had %d entries, after the bench was put back and fetched the rest it has %d, or others", len(before), len(now))
	}
	time.Sleep(t.away())
}

// says waits until the bench says something of itself.
func (t *hubTable) says(words string) {
	c, err := bus.Dial(filepath.Join(t.bench.dir, service.SocketName), wholeName)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	st, err := c.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(st.Troubles, func(n bench.Notice) bool { return strings.Contains(n.Words, words) }) {
		t.Errorf("the bench does not say %q: %+v", words, st.Troubles)
	}
}

// forked puts back the folder while the hub is away, and lets the bench go on.
func (t *hubTable) forked() {
	t.stopBench()
	first := entriesOf(t, t.hub.dir, wholeName)
	t.hub.kill()
	t.bench.putBack(t.older)
	t.goOn()
	t.hub.start()
	for end := time.Now().Add(2 * time.Minute); t.alarmOf(wholeName) == "" && time.Now().Before(end); {
		time.Sleep(100 * time.Millisecond)
	}
	there := map[sealedRow]bool{}
	for _, r := range entriesOf(t, t.hub.dir, wholeName) {
		there[r] = true
	}
	for _, r := range first {
		if !there[r] {
			t.Fatalf("entry %d of the first history is not at the hub any more", r.n)
		}
	}
}
