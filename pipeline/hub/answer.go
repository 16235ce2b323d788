package hub

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"thoud/capture/bench"
)

// Given is a run of a ledger's entries, with the seals at both ends, and where the ledger ended when it was read.
type Given struct {
	Known   bool
	Before  bench.Seal
	Bodies  [][]byte
	After   bench.Seal
	End     bench.Chain
	Results int
	Running [32]byte
	LastRow int64
}

// GivenRuns is a run of a ledger's results, with the sums at both ends.
type GivenRuns struct {
	Before [32]byte
	Rows   []Run
	After  [32]byte
}

// Source is the committed ledger that questions are answered from.
type Source interface {
	Span(ctx context.Context, from uint64, most, bytes int) (Given, error)
	RunSpan(ctx context.Context, after int64, most, bytes int) (GivenRuns, error)
	SealAt(ctx context.Context, n uint64) (bench.Seal, bool, error)
	RunAt(ctx context.Context, k int) (row int64, sum [32]byte, ok bool, err error)
}

// Answers answers a hub's questions out of a bench's ledger.
type Answers struct {
	Bench, Machine, Host, Version string
	Source                        Source
	// Sign signs where the ledger ends, in the words of a note; nil where nobody signs.
	Sign func(Given) (string, error)
	// Troubles tells what is wrong at the bench; nil where nobody knows.
	Troubles func() []Trouble
	// Asked hears which hub has every entry up to a number.
	Asked func(hub string, upTo uint64)
}

func (a Answers) head() Head {
	return Head{Bench: a.Bench, Machine: a.Machine, Host: a.Host, Version: a.Version}
}

// Answer answers one of the questions by its name, in the form of a page. What cannot be answered is said in it.
func (a Answers) Answer(what string) func(ctx context.Context, question []byte) []byte {
	return func(ctx context.Context, question []byte) []byte {
		var q Ask
		var p Page
		err := json.Unmarshal(question, &q)
		if err == nil {
			switch what {
			case AskEntries:
				p, err = a.entries(ctx, q)
			case AskResults:
				p, err = a.results(ctx, q)
			default:
				p, err = a.where(ctx, q)
			}
		}
		if err == nil {
			var b []byte
			if b, err = p.Bytes(); err == nil {
				return b
			}
		}
		p = Page{Head: a.head()}
		p.Fault = err.Error()
		b, err := p.Bytes()
		if err != nil {
			return nil // texts alone are always JSON
		}
		return b
	}
}

func (a Answers) entries(ctx context.Context, q Ask) (Page, error) {
	if q.From == 0 {
		return Page{}, fmt.Errorf("entries from 0: the first is 1")
	}
	g, err := a.Source.Span(ctx, q.From, bounded(q.Max), MostBytes)
	if err != nil {
		return Page{}, err
	}
	p := pageOf(a.head(), g)
	if a.Troubles != nil {
		p.Troubles, p.Now = boundedTroubles(a.Troubles()), time.Now().UnixMicro()
	}
	if g.Known && a.Asked != nil {
		a.Asked(q.Hub, q.From-1)
	}
	if g.Known && g.After == g.End.Seal && g.End.N > 0 && a.Sign != nil {
		if p.Note, err = a.Sign(g); err != nil {
			return Page{}, fmt.Errorf("the note of its end: %w", err)
		}
	}
	return p, nil
}

// pageOf puts a run of entries into a page.
func pageOf(h Head, g Given) Page {
	h.Known, h.Before, h.After = g.Known, g.Before.String(), g.After.String()
	h.Last, h.LastSeal = g.End.N, g.End.Seal.String()
	h.Results, h.LastRow, h.Running = g.Results, g.LastRow, hex.EncodeToString(g.Running[:])
	return Page{Head: h, Bodies: g.Bodies}
}

func bounded(most int) int {
	if most <= 0 || most > MostEntries {
		return MostEntries
	}
	return most
}

func (a Answers) results(ctx context.Context, q Ask) (Page, error) {
	g, err := a.Source.RunSpan(ctx, q.After, bounded(q.Max), MostBytes)
	if err != nil {
		return Page{}, err
	}
	p := Page{Head: a.head()}
	p.Before, p.After = hex.EncodeToString(g.Before[:]), hex.EncodeToString(g.After[:])
	sent := map[[32]byte]bool{}
	for _, r := range g.Rows {
		h := RowHead{Row: r.Row, Old: r.Old}
		if !r.Old {
			h.Asked = hex.EncodeToString(r.Asked[:])
			if h.Request = !sent[r.Asked]; h.Request {
				sent[r.Asked] = true
				p.Bodies = append(p.Bodies, r.Request)
			}
		}
		p.Rows, p.Bodies = append(p.Rows, h), append(p.Bodies, r.Body)
	}
	return p, nil
}

func (a Answers) where(ctx context.Context, q Ask) (Page, error) {
	p := Page{Head: a.head()}
	if q.At > 0 {
		seal, known, err := a.Source.SealAt(ctx, q.At)
		p.Known, p.Before = known, seal.String()
		return p, err
	}
	row, sum, known, err := a.Source.RunAt(ctx, q.Told)
	p.Known, p.Running, p.LastRow = known, hex.EncodeToString(sum[:]), row
	return p, err
}
