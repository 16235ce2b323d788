package hub

import (
	"context"
	"encoding/hex"
	"fmt"
)

// results takes the results that a bench has and the line has not: as many as the bench had when it answered for its entries,
// so that what it signed of that moment can be held against them. more says that some are left.
func (p *Puller) results(ctx context.Context, l *Line, page Page) (more bool, err error) {
	if page.Results <= l.Results {
		return false, nil
	}
	return p.takeResults(ctx, l, min(page.Results-l.Results, MostEntries), l.End.N)
}

// takeResults takes at most so many results of entries up to a number.
func (p *Puller) takeResults(ctx context.Context, l *Line, most int, upTo uint64) (more bool, err error) {
	page, err := p.ask(ctx, &p.paceResults, p.Bench.Results, Ask{After: l.Row}, most)
	if err != nil {
		return false, fmt.Errorf("%w: %w", errAgain, err)
	}
	runs, why := p.judgeResults(l, page)
	if why != "" {
		p.Alarm(AboutResults, fmt.Sprintf("bench %s: its results after number %d are not taken: %s. Its entries are; verify at the bench says what is the matter", p.Name, l.Results, why))
		return false, nil
	}
	sums, entries, err := p.Ledger.CheckRuns(l.Running, runs)
	if err != nil || len(runs) > 0 && hex.EncodeToString(sums[len(sums)-1][:]) != page.After {
		p.Alarm(AboutResults, fmt.Sprintf("bench %s: its results after number %d are not taken: the page does not sum up to what it says, it was altered on its way (%v)", p.Name, l.Results, err))
		return false, nil
	}
	for i, n := range entries {
		if n > upTo { // its entry comes with the next page
			runs, sums = runs[:i], sums[:i]
			break
		}
	}
	if len(runs) == 0 {
		return false, nil
	}
	if err := p.store(ctx, Taking{Line: l.Name, Runs: runs}); err != nil {
		return false, err
	}
	l.Row, l.Results, l.Running = runs[len(runs)-1].Row, l.Results+len(runs), sums[len(sums)-1]
	p.Alarm(AboutResults, "")
	return true, nil
}

// judgeResults reads the rows of a page, and says why it is refused.
func (p *Puller) judgeResults(l *Line, page Page) (runs []Run, why string) {
	switch {
	case page.Fault != "":
		return nil, "it answers: " + page.Fault
	case page.Bench != p.Name:
		return nil, fmt.Sprintf("the page says it is bench %q's", page.Bench)
	case page.Before != hex.EncodeToString(l.Running[:]):
		return nil, "they do not follow what was told before: the results it has now are not those that the hub has (a ledger that was put back and computed again by another version)"
	}
	asked := map[string][]byte{}
	left := page.Bodies
	next := func() []byte {
		if len(left) == 0 {
			return nil
		}
		b := left[0]
		left = left[1:]
		return b
	}
	for _, h := range page.Rows {
		r := Run{Row: h.Row, Old: h.Old}
		if h.Request {
			asked[h.Asked] = next()
		}
		if !h.Old {
			s, err := sum(h.Asked)
			if err != nil || asked[h.Asked] == nil {
				return nil, fmt.Sprintf("the request of result %d is missing", h.Row)
			}
			r.Asked, r.Request = s, asked[h.Asked]
		}
		if r.Body = next(); r.Body == nil {
			return nil, fmt.Sprintf("the body of result %d is missing", h.Row)
		}
		runs = append(runs, r)
	}
	return runs, ""
}

// sharedResults finds how many results a line that begins after an entry shares with the one it parts from. What the bench
// has of entries up to there, and the hub has not yet, is brought in first: it belongs to the line it parts from.
func (p *Puller) sharedResults(ctx context.Context, from Line, n uint64) (count int, running [32]byte, row int64, err error) {
	told := func(k int) (Page, error) {
		page, err := p.ask(ctx, &p.paceWhere, p.Bench.Where, Ask{Told: k}, 0)
		if err != nil {
			err = fmt.Errorf("%w: %w", errAgain, err)
		}
		return page, err
	}
	same := func(k int) (bool, error) {
		ours, ok, err := p.Ledger.RunningAt(ctx, from.Name, k)
		if err != nil || !ok {
			return false, err
		}
		page, err := told(k)
		return page.Known && page.Running == hex.EncodeToString(ours[:]), err
	}
	low, high := 0, from.Results
	for try := high; low < high; try = high - (high-low)/2 {
		ok, err := same(try)
		if err != nil {
			return 0, running, 0, err
		}
		if ok {
			low = try
		} else {
			high = try - 1
		}
	}
	if low == from.Results {
		l := p.at(from.Name)
		for more := true; more; {
			if more, err = p.takeResults(ctx, l, MostEntries, n); err != nil {
				return 0, running, 0, err
			}
		}
		return l.Results, l.Running, l.Row, nil
	}
	if running, _, err = p.Ledger.RunningAt(ctx, from.Name, low); err != nil || low == 0 {
		return low, running, 0, err
	}
	page, err := told(low)
	if err != nil {
		return 0, running, 0, err
	}
	return low, running, page.LastRow, nil
}

// at is the place of a line among those that are kept.
func (p *Puller) at(name string) *Line {
	for i := range p.Lines {
		if p.Lines[i].Name == name {
			return &p.Lines[i]
		}
	}
	return &Line{Name: name}
}
