package hub_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
)

const benchName = "lathe"

// failer is a test, or one try of a property.
type failer interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
}

// fakeBench is a bench's ledger in memory: it goes on, is put back to a copy of itself, and answers a hub.
type fakeBench struct {
	tb      failer
	machine string
	entries []hub.Entry
	runs    []hub.Run
	sums    [][32]byte // after each result
	made    *int       // ids are never used twice, whatever copy the bench goes on from
	bend    func(hub.Page) hub.Page
}

func newFakeBench(tb failer) *fakeBench { return &fakeBench{tb: tb, machine: "m1", made: new(int)} }

func (b *fakeBench) end() bench.Chain {
	if n := len(b.entries); n > 0 {
		return bench.Chain{N: uint64(n), Seal: b.entries[n-1].Seal}
	}
	return bench.Chain{}
}

// work makes an entry with so many results.
func (b *fakeBench) work(results int) {
	*b.made++
	e, body, err := b.end().Number(bench.Entry{Bench: benchName, ID: fmt.Sprint("id-", *b.made), Kind: bench.GaugeLost, At: int64(*b.made)})
	if err != nil {
		b.tb.Fatal(err)
	}
	b.take(hub.Entry{Entry: e, Body: body, Seal: b.end().Seal.After(body)}, results)
}

func (b *fakeBench) take(e hub.Entry, results int) {
	b.entries = append(b.entries[:len(b.entries):len(b.entries)], e)
	for i := range results {
		body, err := json.Marshal(map[string]any{"n": e.Entry.N, "id": e.Entry.ID, "i": i})
		if err != nil {
			b.tb.Fatal(err)
		}
		r := hub.Run{Row: int64(len(b.runs) + 1), Asked: sha256.Sum256(body), Request: body, Body: body}
		b.runs = append(b.runs[:len(b.runs):len(b.runs)], r)
		b.sums = append(b.sums[:len(b.sums):len(b.sums)], sumAfter(b.sum(len(b.sums)), r))
	}
}

func (b *fakeBench) sum(k int) [32]byte {
	if k == 0 {
		return [32]byte{}
	}
	return b.sums[k-1]
}

func sumAfter(before [32]byte, r hub.Run) [32]byte {
	return sha256.Sum256(append(before[:], r.Body...))
}

func (b *fakeBench) copied() *fakeBench { c := *b; return &c }

func (b *fakeBench) head() hub.Head {
	end, s := b.end(), b.sum(len(b.sums))
	return hub.Head{Bench: benchName, Machine: b.machine, Host: b.machine, Last: end.N, LastSeal: end.Seal.String(), Results: len(b.runs), LastRow: int64(len(b.runs)), Running: hex.EncodeToString(s[:])}
}

func (b *fakeBench) answer(p hub.Page) (hub.Page, error) {
	raw, err := p.Bytes()
	if err != nil {
		return p, err
	}
	if p, err = hub.ParsePage(raw); err == nil && b.bend != nil {
		p = b.bend(p)
	}
	return p, err
}

func (b *fakeBench) sealAt(n uint64) (bench.Seal, bool) {
	if n == 0 {
		return bench.Seal{}, true
	}
	if n > uint64(len(b.entries)) {
		return bench.Seal{}, false
	}
	return b.entries[n-1].Seal, true
}

func (b *fakeBench) Entries(_ context.Context, a hub.Ask) (hub.Page, error) {
	p := hub.Page{Head: b.head()}
	before, known := b.sealAt(a.From - 1)
	if p.Known = known; !known {
		return b.answer(p)
	}
	after := before
	for i := a.From - 1; i < uint64(len(b.entries)) && len(p.Bodies) < 7; i++ {
		p.Bodies, after = append(p.Bodies, b.entries[i].Body), b.entries[i].Seal
	}
	p.Before, p.After = before.String(), after.String()
	if after == b.end().Seal {
		p.Note = fmt.Sprint("note of ", b.end().N)
	}
	return b.answer(p)
}

func (b *fakeBench) Results(_ context.Context, a hub.Ask) (hub.Page, error) {
	p := hub.Page{Head: b.head()}
	before := b.sum(min(int(a.After), len(b.sums)))
	after := before
	for _, r := range b.runs[min(int(a.After), len(b.runs)):] {
		if len(p.Rows) == min(a.Max, 5) {
			break
		}
		p.Rows = append(p.Rows, hub.RowHead{Row: r.Row, Asked: hex.EncodeToString(r.Asked[:]), Request: true})
		p.Bodies = append(p.Bodies, r.Request, r.Body)
		after = sumAfter(after, r)
	}
	p.Before, p.After = hex.EncodeToString(before[:]), hex.EncodeToString(after[:])
	return b.answer(p)
}

func (b *fakeBench) Where(_ context.Context, a hub.Ask) (hub.Page, error) {
	p := hub.Page{Head: b.head()}
	if a.At > 0 {
		seal, known := b.sealAt(a.At)
		p.Known, p.Before = known, seal.String()
		return p, nil
	}
	p.Known = a.Told <= len(b.sums)
	if p.Known {
		s := b.sum(a.Told)
		p.Running, p.LastRow = hex.EncodeToString(s[:]), int64(a.Told)
	}
	return p, nil
}

// fakeLedger is a hub's ledger in memory; it refuses what a line does not follow.
type fakeLedger struct {
	lines   map[string]*hub.Line
	entries map[string][]hub.Entry
	runs    map[string][]hub.Run
	sums    map[string][][32]byte
	ids     map[[2]string]bool // by line: an id is its bench's own
}

func newFakeLedger() *fakeLedger {
	return &fakeLedger{map[string]*hub.Line{}, map[string][]hub.Entry{}, map[string][]hub.Run{}, map[string][][32]byte{}, map[[2]string]bool{}}
}

func (f *fakeLedger) Take(_ context.Context, t hub.Taking) error {
	if t.Begin != nil {
		if f.lines[t.Line] != nil {
			return fmt.Errorf("line %s is there", t.Line)
		}
		l := *t.Begin
		l.End, l.Running, l.Results = l.Parted, l.Begin, l.Shared
		f.lines[t.Line] = &l
	}
	l := f.lines[t.Line]
	for _, e := range t.Entries {
		next, err := l.End.Next(e.Entry, e.Body)
		if err != nil {
			return err
		}
		if next.Seal != e.Seal || f.ids[[2]string{t.Line, e.Entry.ID}] {
			return fmt.Errorf("entry %d: seal or id", e.Entry.N)
		}
		f.ids[[2]string{t.Line, e.Entry.ID}], l.End = true, next
		f.entries[t.Line] = append(f.entries[t.Line], e)
	}
	for _, r := range t.Runs {
		var at struct{ N uint64 }
		if err := json.Unmarshal(r.Body, &at); err != nil {
			return err
		}
		if at.N > l.End.N || at.N <= l.Parted.N {
			return fmt.Errorf("result of entry %d in line %s, whose entries are %d to %d", at.N, l.Name, l.Parted.N+1, l.End.N)
		}
		l.Running = sumAfter(l.Running, r)
		l.Row, l.Results = r.Row, l.Results+1
		f.runs[t.Line], f.sums[t.Line] = append(f.runs[t.Line], r), append(f.sums[t.Line], l.Running)
	}
	if t.Set != nil {
		t.Set(l)
	}
	return nil
}

func (f *fakeLedger) SealAt(_ context.Context, line string, n uint64) (bench.Seal, bool, error) {
	l := f.lines[line]
	switch {
	case n == 0:
		return bench.Seal{}, true, nil
	case n <= l.Parted.N:
		return f.SealAt(context.Background(), l.Parent, n)
	case n > l.End.N:
		return bench.Seal{}, false, nil
	}
	return f.entries[line][n-l.Parted.N-1].Seal, true, nil
}

func (f *fakeLedger) RunningAt(_ context.Context, line string, k int) ([32]byte, bool, error) {
	l := f.lines[line]
	switch {
	case k == 0:
		return [32]byte{}, true, nil
	case k <= l.Shared:
		return f.RunningAt(context.Background(), l.Parent, k)
	case k > l.Results:
		return [32]byte{}, false, nil
	}
	return f.sums[line][k-l.Shared-1], true, nil
}

func (f *fakeLedger) CheckRuns(before [32]byte, runs []hub.Run) (sums [][32]byte, entries []uint64, err error) {
	for _, r := range runs {
		before = sumAfter(before, r)
		var at struct{ N uint64 }
		if err := json.Unmarshal(r.Body, &at); err != nil {
			return nil, nil, err
		}
		sums, entries = append(sums, before), append(entries, at.N)
	}
	return sums, entries, nil
}

// whole gives a line's entries with those it shares.
func (f *fakeLedger) whole(line string) []hub.Entry {
	l := f.lines[line]
	if l.Parent == "" {
		return f.entries[line]
	}
	up := f.whole(l.Parent)
	return append(up[:l.Parted.N:l.Parted.N], f.entries[line]...)
}

func (f *fakeLedger) wholeRuns(line string) []hub.Run {
	l := f.lines[line]
	if l.Parent == "" {
		return f.runs[line]
	}
	up := f.wholeRuns(l.Parent)
	return append(up[:l.Shared:l.Shared], f.runs[line]...)
}

// asked is a bench that is put in another's place while the hub goes on.
type asked struct{ *fakeBench }

// play is a hub that pulls from one bench.
type play struct {
	tb     failer
	ledger *fakeLedger
	bench  *asked
	puller *hub.Puller
	alarms map[string]string
	clock  int64
}

func newPlay(tb failer, b *fakeBench) *play {
	p := &play{tb: tb, ledger: newFakeLedger(), bench: &asked{b}, alarms: map[string]string{}}
	p.restart()
	return p
}

// restart is a hub that begins again from its ledger.
func (p *play) restart() {
	p.puller = &hub.Puller{Name: benchName, Hub: "hub", Key: "K1", Bench: p.bench, Ledger: p.ledger,
		Alarm: func(about, words string) {
			if p.alarms[about] = words; words == "" {
				delete(p.alarms, about)
			}
		},
		Now: func() time.Time { p.clock++; return time.UnixMicro(p.clock) }}
	for _, l := range p.ledger.lines {
		p.puller.Lines = append(p.puller.Lines, *l)
	}
	p.puller.Open()
}

// pull asks until there is no more.
func (p *play) pull() {
	p.tb.Helper()
	for range 10_000 {
		more, err := p.puller.Once(context.Background())
		if err != nil {
			p.tb.Fatal(err)
		}
		if !more {
			return
		}
	}
	p.tb.Fatal("the hub asks for ever")
}

// is holds the line that the hub follows against the bench.
func (p *play) is(b *fakeBench) {
	p.tb.Helper()
	l := p.puller.Line()
	got := p.ledger.whole(l.Name)
	if len(got) != len(b.entries) || l.End != b.end() {
		p.tb.Fatalf("line %s has %d entries and ends %v, the bench has %d and ends %v; alarms %v", l.Name, len(got), l.End, len(b.entries), b.end(), p.alarms)
	}
	for i := range got {
		if !bytes.Equal(got[i].Body, b.entries[i].Body) {
			p.tb.Fatalf("entry %d of line %s is not the bench's", i+1, l.Name)
		}
	}
	runs := p.ledger.wholeRuns(l.Name)
	if len(runs) != len(b.runs) {
		p.tb.Fatalf("line %s has %d results, the bench has %d; alarms %v", l.Name, len(runs), len(b.runs), p.alarms)
	}
	for i := range runs {
		if !bytes.Equal(runs[i].Body, b.runs[i].Body) {
			p.tb.Fatalf("result %d of line %s is not the bench's", i+1, l.Name)
		}
	}
}
