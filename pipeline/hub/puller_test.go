package hub_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"thoud/pipeline/hub"

	"pgregory.net/rapid"
)

func TestTheWholeHistoryFromTheStart(t *testing.T) {
	b := newFakeBench(t)
	for i := range 40 {
		b.work(i % 3)
	}
	p := newPlay(t, b)
	p.pull()
	p.is(b)
	if got := p.puller.Line().Note; got != "note of 40" {
		t.Errorf("note %q, want that of the end", got)
	}
	b.work(2)
	p.restart()
	p.pull()
	p.is(b)
	if len(p.alarms) > 0 {
		t.Errorf("alarms %v", p.alarms)
	}
}

// A bench that is put back and goes on has a second history: the first stays, nothing is mixed, one alarm.
func TestASecondHistoryIsALineOfItsOwn(t *testing.T) {
	b := newFakeBench(t)
	for range 10 {
		b.work(1)
	}
	older := b.copied()
	for range 10 {
		b.work(1)
	}
	p := newPlay(t, b)
	p.pull()
	first := slices.Clone(p.ledger.entries[benchName])

	p.bench.fakeBench = older
	p.pull()
	if !strings.Contains(p.alarms[hub.AboutBehind], "ends with entry 10, the hub has it up to entry 20") {
		t.Errorf("put back: alarms %v", p.alarms)
	}
	older.work(1)
	older.work(2)
	p.pull()
	p.is(older)
	l := p.puller.Line()
	if l.Name != "lathe~2" || l.Parent != benchName || l.Parted.N != 10 || l.Parted.Seal != first[9].Seal || l.Shared != 10 {
		t.Errorf("line %+v", l)
	}
	if got := p.ledger.entries["lathe~2"][0].Entry.Prev; got != first[9].Seal.String() {
		t.Errorf("its first entry is sealed onto %.12s, want the seal at the parting", got)
	}
	if len(p.ledger.entries[benchName]) != 20 {
		t.Errorf("the first history has %d entries, want its 20", len(p.ledger.entries[benchName]))
	}
	if !strings.Contains(p.alarms[hub.AboutFork], "after entry 10 it went on from an older copy of itself") || p.alarms[hub.AboutBehind] != "" {
		t.Errorf("alarms %v", p.alarms)
	}
	p.restart()
	if p.puller.Line().Name != "lathe~2" || p.alarms[hub.AboutFork] == "" {
		t.Errorf("after a restart it follows %s, alarms %v", p.puller.Line().Name, p.alarms)
	}
	// The first history goes on: the copy from before the parting was the wrong one.
	p.bench.fakeBench = b
	b.work(1)
	p.pull()
	p.is(b)
	if p.puller.Line().Name != benchName {
		t.Errorf("follows %s", p.puller.Line().Name)
	}
}

// What came of entries before the parting, and the hub had not yet, belongs to the first history.
func TestResultsThatComeLateBelongToTheLineOfTheirEntry(t *testing.T) {
	b := newFakeBench(t)
	for range 10 {
		b.work(2)
	}
	older := b.copied()
	b.work(2)
	p := newPlay(t, b)
	for range 2 { // entries 1 to 7 and 8 to 11, each with at most five results
		if _, err := p.puller.Once(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
	if l := p.puller.Line(); l.End.N != 11 || l.Results >= 20 {
		t.Fatalf("line %+v: the play wants entries whose results are not there yet", l)
	}
	p.bench.fakeBench = older
	older.work(2)
	p.pull()
	p.is(older)
	if l := p.puller.Line(); l.Name != "lathe~2" || l.Shared != 20 {
		t.Errorf("line %+v", l)
	}
}

// However often a bench is put back to one of its copies and goes on, with the hub asking now and then and starting again:
// each line is sealed from its beginning, no line that has ended ever changes, and the line that is followed is the bench.
func TestABenchThatIsPutBackAgainAndAgain(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		b := newFakeBench(r)
		p := newPlay(r, b)
		copies := []*fakeBench{b.copied()}
		kept := map[string][]hub.Entry{}
		for range rapid.IntRange(1, 30).Draw(r, "events") {
			switch rapid.SampledFrom([]string{"work", "work", "copy", "back", "pull", "pull", "restart", "one"}).Draw(r, "event") {
			case "work":
				for range rapid.IntRange(1, 12).Draw(r, "entries") {
					p.bench.work(rapid.IntRange(0, 2).Draw(r, "results"))
				}
			case "copy":
				copies = append(copies, p.bench.copied())
			case "back":
				p.bench.fakeBench = rapid.SampledFrom(copies).Draw(r, "copy").copied()
			case "restart":
				p.restart()
			case "one":
				if _, err := p.puller.Once(context.Background()); err != nil {
					r.Fatal(err)
				}
			case "pull":
				p.pull()
				if p.alarms[hub.AboutBehind] == "" {
					p.is(p.bench.fakeBench)
				}
			}
			for line, had := range kept {
				now := p.ledger.entries[line]
				if len(now) < len(had) || len(had) > 0 && now[len(had)-1].Seal != had[len(had)-1].Seal {
					r.Fatalf("line %s has changed", line)
				}
			}
			for line, now := range p.ledger.entries {
				kept[line] = now
			}
		}
		p.bench.work(1)
		p.pull()
		p.is(p.bench.fakeBench)
		if len(p.alarms) > 0 && (len(p.alarms) > 1 || p.alarms[hub.AboutFork] == "") {
			r.Fatalf("alarms %v", p.alarms)
		}
	})
}

// Nothing of a page that is not sealed from end to end gets in, and the next good one does.
func TestPagesThatAreNotTheBenchs(t *testing.T) {
	for name, bend := range map[string]func(hub.Page) hub.Page{
		"altered body": func(p hub.Page) hub.Page {
			p.Bodies[1] = []byte(strings.Replace(string(p.Bodies[1]), "id-2", "id-9", 1))
			return p
		},
		"altered last body": func(p hub.Page) hub.Page {
			last := len(p.Bodies) - 1
			p.Bodies[last] = []byte(strings.Replace(string(p.Bodies[last]), "id-", "ix-", 1))
			return p
		},
		"one left out":      func(p hub.Page) hub.Page { p.Bodies = slices.Delete(p.Bodies, 1, 2); return p },
		"another's name":    func(p hub.Page) hub.Page { p.Bench = "mill"; return p },
		"a fault":           func(p hub.Page) hub.Page { p.Fault = "the ledger cannot be read"; return p },
		"another's entries": func(p hub.Page) hub.Page { return foreign(t, p) },
		"more than it has":  func(p hub.Page) hub.Page { p.Last = 2; return p },
	} {
		t.Run(name, func(t *testing.T) {
			b := newFakeBench(t)
			for range 5 {
				b.work(1)
			}
			p := newPlay(t, b)
			b.bend = bend
			if _, err := p.puller.Once(context.Background()); err != nil {
				t.Fatal(err)
			}
			if p.alarms[hub.AboutPage] == "" || len(p.ledger.entries[benchName]) > 0 || len(p.ledger.lines) > 1 {
				t.Errorf("alarms %v, taken %d", p.alarms, len(p.ledger.entries[benchName]))
			}
			b.bend = nil
			p.pull()
			p.is(b)
			if len(p.alarms) > 0 {
				t.Errorf("alarms %v", p.alarms)
			}
		})
	}
}

// foreign has another bench's entries in a page that is sealed rightly.
func foreign(t *testing.T, p hub.Page) hub.Page {
	other := &fakeBench{tb: t, made: new(int)}
	for range len(p.Bodies) {
		other.work(0)
	}
	end := other.end().Seal
	out := hub.Page{Head: p.Head}
	for _, e := range other.entries {
		body := []byte(strings.Replace(string(e.Body), `"bench":"lathe"`, `"bench":"mill"`, 1))
		out.Bodies = append(out.Bodies, body)
	}
	out.After, out.LastSeal = end.String(), end.String()
	return out
}

// A page answered long ago, sent again, is no page after where the copy ends now.
func TestAPageSentAgain(t *testing.T) {
	b := newFakeBench(t)
	for range 5 {
		b.work(0)
	}
	p := newPlay(t, b)
	p.pull()
	first, err := b.copied().Entries(context.Background(), hub.Ask{From: 1})
	if err != nil {
		t.Fatal(err)
	}
	b.work(0)
	b.bend = func(hub.Page) hub.Page { return first }
	if _, err := p.puller.Once(context.Background()); err != nil {
		t.Fatal(err)
	}
	if got := len(p.ledger.entries[benchName]); got != 5 || len(p.ledger.lines) != 1 {
		t.Errorf("%d entries, %d lines", got, len(p.ledger.lines))
	}
	b.bend = nil
	p.pull()
	p.is(b)
}

// Results that were altered, or computed again to something else, are not taken; entries are.
func TestResultsThatDoNotFollow(t *testing.T) {
	b := newFakeBench(t)
	for range 5 {
		b.work(1)
	}
	p := newPlay(t, b)
	b.bend = func(p hub.Page) hub.Page {
		if len(p.Rows) > 0 {
			p.Bodies[1] = append(slices.Clone(p.Bodies[1]), ' ')
		}
		return p
	}
	p.pull()
	if !strings.Contains(p.alarms[hub.AboutResults], "altered on its way") || len(p.ledger.runs[benchName]) > 0 || len(p.ledger.entries[benchName]) != 5 {
		t.Errorf("alarms %v", p.alarms)
	}
	b.bend = nil
	p.pull()
	p.is(b)

	again := newFakeBench(t) // put back from its entries alone, by a program that computes otherwise
	again.made = b.made
	for _, e := range b.entries {
		again.take(e, 2)
	}
	again.work(2)
	p.bench.fakeBench = again
	p.pull()
	if !strings.Contains(p.alarms[hub.AboutResults], "do not follow what was told before") || len(p.ledger.entries[benchName]) != 6 {
		t.Errorf("alarms %v, entries %d", p.alarms, len(p.ledger.entries[benchName]))
	}
}

func TestASecondMachineOfOneName(t *testing.T) {
	b := newFakeBench(t)
	b.work(1)
	p := newPlay(t, b)
	p.pull()
	other := b.copied()
	other.machine = "m2"
	other.work(1)
	p.bench.fakeBench = other
	p.pull()
	if !strings.Contains(p.alarms[hub.AboutMachine], "a second machine (m2) answers as bench lathe") || len(p.ledger.entries[benchName]) != 1 {
		t.Errorf("alarms %v, %d entries", p.alarms, len(p.ledger.entries[benchName]))
	}
	p.restart() // it is known from the ledger
	p.pull()
	if p.alarms[hub.AboutMachine] == "" {
		t.Error("forgotten at a restart")
	}
	p.bench.fakeBench = b
	p.pull()
	p.is(b)
	if len(p.alarms) > 0 {
		t.Errorf("alarms %v", p.alarms)
	}
	p.puller.Key = "K2" // invited anew: it has moved
	p.bench.fakeBench = other
	p.pull()
	p.is(other)
}

func FuzzParsePage(f *testing.F) {
	b := newFakeBench(f)
	b.work(1)
	p, err := b.Entries(context.Background(), hub.Ask{From: 1})
	if err != nil {
		f.Fatal(err)
	}
	raw, err := p.Bytes()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Add([]byte("{\"sizes\":[-1]}\nx"))
	f.Add([]byte("{\"sizes\":[9223372036854775807]}\nx"))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := hub.ParsePage(b)
		if err != nil {
			return
		}
		total := 0
		for _, body := range p.Bodies {
			total += len(body)
		}
		if total > len(b) {
			t.Errorf("%d bytes of bodies out of %d", total, len(b))
		}
	})
}
