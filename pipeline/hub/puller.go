package hub

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"thoud/capture/bench"
)

// Bench is a bench that can be asked. Each answer is one page.
type Bench interface {
	Entries(ctx context.Context, a Ask) (Page, error)
	Results(ctx context.Context, a Ask) (Page, error)
	Where(ctx context.Context, a Ask) (Page, error) // the seal of an entry, the sum over so many results
}

// Run is a result as it lies in a ledger.
type Run struct {
	Row     int64    // the bench's own number of it: they rise
	Old     bool     // of the first form, whose body holds its request
	Asked   [32]byte // hash of the request
	Request []byte   // packed as it is kept
	Body    []byte   // packed as it is kept; of the first form as it is
}

// Taking is what of one line is to be taken into the ledger, in one transaction.
type Taking struct {
	Line    string
	Entries []Entry
	Runs    []Run
	Set     func(*Line) // changes what is kept of the line beside that; may be nil
	Begin   *Line       // the line, where it begins with this; else nil
}

// Ledger is where the hub keeps what it took.
type Ledger interface {
	// Take stores all of it or nothing, and returns once it is stored.
	Take(ctx context.Context, t Taking) error
	SealAt(ctx context.Context, line string, n uint64) (bench.Seal, bool, error)
	// RunningAt is the sum over the first k results of a line's own and those it shares.
	RunningAt(ctx context.Context, line string, k int) ([32]byte, bool, error)
	// CheckRuns works out the sum after each of some results and the entry that each came of.
	CheckRuns(before [32]byte, runs []Run) (sums [][32]byte, entries []uint64, err error)
}

// Puller keeps the copy of one bench. It holds no state of the bench but where each of its lines ends.
type Puller struct {
	Name   string // of the bench
	Hub    string // who asks
	Key    string // by which the bench is known now: another one means another machine may have come in its place
	Bench  Bench
	Ledger Ledger
	Lines  []Line
	// Alarm says what is wrong, in words, by what it is about; empty words take it back.
	Alarm func(about, words string)
	// Heard, where not nil, hears every page that was believed.
	Heard func(Head)
	Now   func() time.Time

	current int
	theirs  bench.Chain // where the bench's ledger ended when it answered last
	behind  bool        // the last answer said that there is more

	pace, paceResults, paceWhere pace
}

// What alarms are about.
const (
	AboutPage    = "page"
	AboutFork    = "fork"
	AboutBehind  = "behind"
	AboutResults = "results"
	AboutMachine = "machine"
	AboutLedger  = "ledger"
)

// errAgain means that the bench could not be asked; it is asked again later.
var errAgain = errors.New("no answer")

// Open sorts the lines and follows the one that something was taken of last.
func (p *Puller) Open() {
	sortLines(p.Lines)
	for i, l := range p.Lines {
		if l.At >= p.Lines[p.current].At {
			p.current = i
		}
	}
	if len(p.Lines) > 1 {
		p.tellFork()
	}
}

// Line is the line that the bench goes on with.
func (p *Puller) Line() Line {
	if len(p.Lines) == 0 {
		return Line{Name: p.Name}
	}
	return p.Lines[p.current]
}

// Theirs is where the bench's ledger ended when it answered last.
func (p *Puller) Theirs() bench.Chain { return p.theirs }

// Once asks for one page and takes it. more says that there is more to be had at once.
func (p *Puller) Once(ctx context.Context) (more bool, err error) {
	more, err = p.once(ctx)
	p.behind = more && err == nil
	return more, err
}

func (p *Puller) once(ctx context.Context) (more bool, err error) {
	if len(p.Lines) == 0 {
		l := Line{Name: p.Name}
		if err := p.store(ctx, Taking{Line: l.Name, Begin: &l}); err != nil {
			return false, err
		}
		p.Lines, p.current = []Line{l}, 0
	}
	l := &p.Lines[p.current]
	page, err := p.ask(ctx, &p.pace, p.Bench.Entries, Ask{From: l.End.N + 1}, MostEntries)
	if err != nil {
		return false, fmt.Errorf("%w: %w", errAgain, err)
	}
	if !p.rightMachine(l, page) {
		return false, nil
	}
	j := judge(*l, p.Name, page)
	switch j.verdict {
	case refuse:
		p.Alarm(AboutPage, fmt.Sprintf("bench %s: an answer is refused, nothing of it was taken: %s", p.Name, j.why))
		return false, nil
	}
	p.Alarm(AboutPage, "")
	if p.Heard != nil {
		p.Heard(page.Head)
	}
	if j.verdict == parts {
		return p.settle(ctx, j.theirs)
	}
	p.Alarm(AboutBehind, "")
	p.theirs = j.theirs
	if err := p.take(ctx, l, page, j, nil); err != nil {
		return false, err
	}
	told, err := p.results(ctx, l, page)
	return told || l.End.N < j.theirs.N, err
}

// take stores the entries of a page, and what else came with it.
func (p *Puller) take(ctx context.Context, l *Line, page Page, j judged, begin *Line) error {
	machine := p.machineOf(page.Head)
	note := l.Note
	if page.Note != "" && j.end == j.theirs {
		note = page.Note
	}
	if len(j.entries) == 0 && l.Machine == machine && (l.Note != "" || note == "") {
		return nil
	}
	now := p.Now().UnixMicro()
	set := func(k *Line) { k.Machine, k.Note, k.At = machine, note, now }
	if err := p.store(ctx, Taking{Line: l.Name, Entries: j.entries, Set: set, Begin: begin}); err != nil {
		return err
	}
	set(l)
	l.End = j.end
	return nil
}

// store puts something into the ledger, and says where it cannot.
func (p *Puller) store(ctx context.Context, t Taking) error {
	err := p.Ledger.Take(ctx, t)
	words := ""
	if err != nil {
		words = fmt.Sprintf("bench %s: what was pulled cannot be stored: %v. It is asked for again", p.Name, err)
	}
	p.Alarm(AboutLedger, words)
	return err
}

// machineOf is how a machine is known: by its own sign, under the key by which the bench was invited.
func (p *Puller) machineOf(h Head) string { return p.Key + " " + h.Machine }

// rightMachine reports whether a page comes from the machine that the copy was begun with under this key.
func (p *Puller) rightMachine(l *Line, h Page) bool {
	is, other := p.machineOf(h.Head), h.Other
	// A new key means that the bench was invited anew, perhaps on another machine: the first that answers is the bench.
	right := l.Machine == is || !strings.HasPrefix(l.Machine, p.Key+" ")
	if !right {
		other = h.Host
	}
	if right && other == "" {
		p.Alarm(AboutMachine, "")
		return true
	}
	p.Alarm(AboutMachine, fmt.Sprintf("a second machine (%s) answers as bench %s, and is refused: give it a name of its own and invite it; if the bench has moved there, invite %s anew", other, p.Name, p.Name))
	return right
}

// Machine is the sign of the machine that is known as the bench; "" where none is yet.
func (p *Puller) Machine() string {
	machine, ok := strings.CutPrefix(p.Line().Machine, p.Key+" ")
	if !ok {
		return ""
	}
	return machine
}

// settle finds where a bench belongs that does not go on from the end of the line followed.
func (p *Puller) settle(ctx context.Context, theirs bench.Chain) (more bool, err error) {
	h, err := findHome(p.Lines, p.current, theirs, func(n uint64) (bench.Seal, error) {
		page, err := p.ask(ctx, &p.paceWhere, p.Bench.Where, Ask{At: n}, 0)
		switch {
		case err != nil:
			return bench.Seal{}, fmt.Errorf("%w: %w", errAgain, err)
		case page.Bench != p.Name || !page.Known:
			return bench.Seal{}, fmt.Errorf("%w: the seal of entry %d is not told (%s)", errAgain, n, page.Fault)
		}
		return bench.ParseSeal(page.Before)
	}, func(line string, n uint64) (bench.Seal, bool, error) { return p.Ledger.SealAt(ctx, line, n) })
	if err != nil {
		return false, err
	}
	p.theirs = theirs
	l := p.Lines[h.line]
	switch h.way {
	case behind:
		p.Alarm(AboutBehind, fmt.Sprintf("bench %s ends with entry %d, the hub has it up to entry %d: it was put back, or has lost its end. Start its service again: it fetches from the hub what it lacks. What it does before that makes a second history", p.Name, theirs.N, l.End.N))
		return false, nil
	case resumes:
		p.current = h.line
		p.Alarm(AboutBehind, "")
		return true, nil
	}
	return true, p.begin(ctx, l, h.at)
}

// begin makes a line of what differs after an entry.
func (p *Puller) begin(ctx context.Context, from Line, at bench.Chain) error {
	shared, running, row, err := p.sharedResults(ctx, from, at.N)
	if err != nil {
		return err
	}
	_, last := BenchOf(p.Lines[len(p.Lines)-1].Name)
	l := Line{Name: LineName(p.Name, last+1), Parent: from.Name, Parted: at, End: at, Shared: shared, Begin: running, Row: row, Results: shared, Running: running,
		Machine: from.Machine}
	page, err := p.ask(ctx, &p.pace, p.Bench.Entries, Ask{From: at.N + 1}, MostEntries)
	if err != nil {
		return fmt.Errorf("%w: %w", errAgain, err)
	}
	j := judge(l, p.Name, page)
	if j.verdict != takes || len(j.entries) == 0 || !p.rightMachine(&l, page) {
		return fmt.Errorf("%w: its ledger changed while it was asked", errAgain)
	}
	// The line begins with its first entries, in one transaction: an empty one would take any history that goes through the
	// parting for its own.
	if err := p.take(ctx, &l, page, j, &l); err != nil {
		return err
	}
	p.Lines = append(p.Lines, l)
	p.current = len(p.Lines) - 1
	p.Alarm(AboutBehind, "")
	p.tellFork()
	return nil
}

func (p *Puller) tellFork() {
	l := p.Lines[len(p.Lines)-1]
	p.Alarm(AboutFork, fmt.Sprintf("bench %s has %d histories: after entry %d it went on from an older copy of itself. The first is kept whole as %s (up to entry %d), what differs as %s. Nothing is lost or mixed; look which readings were taken twice",
		p.Name, len(p.Lines), l.Parted.N, l.Parent, p.line(l.Parent).End.N, l.Name))
}

func (p *Puller) line(name string) Line {
	i := slices.IndexFunc(p.Lines, func(l Line) bool { return l.Name == name })
	if i < 0 {
		return Line{}
	}
	return p.Lines[i]
}

func sum(text string) ([32]byte, error) {
	var s [32]byte
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != len(s) {
		return s, fmt.Errorf("%.80q is not a sum", text)
	}
	copy(s[:], b)
	return s, nil
}
