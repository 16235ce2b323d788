package hub

import (
	"fmt"

	"thoud/capture/bench"
)

// way says how a bench's ledger goes on from what the hub has.
type way int

const (
	resumes way = iota // it goes on from the end of a line
	behind             // it ends within a line: what comes after is here and not there
	branch             // it differs from the line after an entry: a second history
)

// home is where a bench's ledger belongs among the lines the hub has of it.
type home struct {
	way  way
	line int         // which
	at   bench.Chain // the last entry that both have
}

// findHome finds the line that shares most with a bench's ledger, which ends with theirs. there asks the bench for the seal
// of one of its entries, here the ledger. Equal seals mean equal histories up to there, so that each line is searched by
// halves. Where several share as much, one that it goes on from is preferred, then the line followed until now.
func findHome(lines []Line, current int, theirs bench.Chain, there func(n uint64) (bench.Seal, error), here hereAt) (home, error) {
	asked := map[uint64]bench.Seal{0: {}, theirs.N: theirs.Seal}
	same := func(line string, n uint64) (bool, bench.Seal, error) {
		ours, ok, err := here(line, n)
		if err != nil {
			return false, ours, err
		}
		if !ok {
			return false, ours, fmt.Errorf("entry %d of %s is not in the ledger", n, line)
		}
		s, known := asked[n]
		if !known {
			if s, err = there(n); err != nil {
				return false, ours, err
			}
			asked[n] = s
		}
		return s == ours, ours, nil
	}
	best := home{line: -1}
	for i, l := range lines {
		low, high := bench.Chain{}, min(l.End.N, theirs.N)
		for try := high; low.N < high; try = high - (high-low.N)/2 {
			ok, seal, err := same(l.Name, try)
			if err != nil {
				return best, err
			}
			if ok {
				low = bench.Chain{N: try, Seal: seal}
			} else {
				high = try - 1
			}
		}
		h := home{way: branch, line: i, at: low}
		switch low.N {
		case l.End.N:
			h.way = resumes
		case theirs.N:
			h.way = behind
		}
		if best.line < 0 || better(h, best, current) {
			best = h
		}
	}
	if best.way == branch {
		best.line = owner(lines, best.line, best.at.N)
	}
	return best, nil
}

// better reports whether a home is to be preferred to another.
func better(a, b home, current int) bool {
	switch {
	case a.at.N != b.at.N:
		return a.at.N > b.at.N
	case a.way != b.way:
		return a.way < b.way
	}
	return a.line == current
}

// owner is the line that an entry, shared by several, is kept under.
func owner(lines []Line, line int, n uint64) int {
	for lines[line].Parent != "" && n <= lines[line].Parted.N {
		up := line
		for i, l := range lines {
			if l.Name == lines[line].Parent {
				up = i
			}
		}
		if up == line {
			break
		}
		line = up
	}
	return line
}
