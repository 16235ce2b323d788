package hub

import (
	"fmt"

	"thoud/capture/bench"
)

// Entry is an entry with its bytes and seal.
type Entry struct {
	Entry bench.Entry
	Body  []byte
	Seal  bench.Seal
}

// verdict is what a page of entries is.
type verdict int

const (
	takes  verdict = iota // it follows: its entries can be taken, none if the copy is up to date
	parts                 // the bench's ledger is not what this line has: it ends before it, or differs
	refuse                // nothing of it can be believed
)

// judged is a page with what it is.
type judged struct {
	verdict verdict
	entries []Entry
	end     bench.Chain // of the line once they are taken
	theirs  bench.Chain // where the bench's ledger ends
	why     string      // of a refusal
}

func refused(format string, args ...any) judged {
	return judged{verdict: refuse, why: fmt.Sprintf(format, args...)}
}

// judge holds a page of entries against the line it is asked for. It is pure.
func judge(l Line, benchName string, p Page) judged {
	last, err := bench.ParseSeal(p.LastSeal)
	theirs := bench.Chain{N: p.Last, Seal: last}
	switch {
	case p.Fault != "":
		return refused("it answers: %s", p.Fault)
	case p.Bench != benchName:
		return refused("the page says it is bench %q's", p.Bench)
	case err != nil:
		return refused("where it ends: %v", err)
	case !p.Known:
		return judged{verdict: parts, theirs: theirs}
	case p.Before != l.End.Seal.String():
		return judged{verdict: parts, theirs: theirs}
	}
	out := judged{end: l.End, theirs: theirs}
	for i, body := range p.Bodies {
		e, err := bench.Decode(body)
		if err != nil {
			return refused("body %d of the page after entry %d: %v; is the bench's program newer than the hub's?", i+1, l.End.N, err)
		}
		if e.Bench != benchName {
			return refused("entry %d of the page says it is bench %q's", e.N, e.Bench)
		}
		next, err := out.end.Next(e, body)
		if err != nil {
			return refused("the page: %v", err)
		}
		out.end = next
		out.entries = append(out.entries, Entry{e, body, next.Seal})
	}
	switch {
	case out.end.Seal.String() != p.After:
		return refused("the page ends with seal %.12s…, its bytes give %.12s…: it was altered on its way", p.After, out.end.Seal)
	case out.end.N > theirs.N, out.end.N == theirs.N && out.end != theirs:
		return refused("the page goes up to entry %d, the bench says it ends with %d %.12s…", out.end.N, theirs.N, theirs.Seal)
	}
	return out
}
