package hub

import (
	"context"
	"errors"
	"time"
)

// Bounds of how a bench is asked.
const (
	firstAsk = 32 // entries in the page that tells whether there are more
	leastAsk = 8  // where these take too long, they are waited for longer

	askWait  = 5 * time.Second         // for an answer, as long as the link is quick
	mostWait = 45 * time.Second        // for the largest entry over the slowest link: 1 MiB at 24 kB/s; a link is not waited for longer
	pageTime = 1500 * time.Millisecond // that a page is to take
	quicker  = 4                       // times as much at once is asked for after a quick answer, at most
)

// pace is how much a bench is asked for at once, and how long its answer is waited for. A full page that takes longer over a
// slow link than it is waited for would be asked for again and again, each behind the last one, and never get here: so each
// page is as large as the last one says that it takes a moment. Where one does not come at all less is asked for, and where
// that is little already it is waited for longer.
type pace struct {
	most int           // 0 is firstAsk
	wait time.Duration // 0 is askWait
}

func (p *pace) asked() (most int, wait time.Duration) {
	if p.most == 0 {
		p.most, p.wait = firstAsk, askWait
	}
	return p.most, p.wait
}

// came tells how long an answer took that was to be so much, and was so much, or why none came. Only one that did not come in
// time says something of the link: where nobody is there, that is known at once.
func (p *pace) came(took time.Duration, asked, got int, err error) {
	most, wait := p.asked()
	switch {
	case errors.Is(err, context.DeadlineExceeded) && most > leastAsk:
		p.most = max(most/4, leastAsk)
	case errors.Is(err, context.DeadlineExceeded):
		p.wait = min(2*wait, mostWait)
	case err != nil:
	case got >= asked && asked > 0 || took > pageTime:
		fits := int(float64(max(got, 1)) * pageTime.Seconds() / max(took.Seconds(), 1e-6))
		p.most = min(max(fits, leastAsk), quicker*max(got, 1), MostEntries)
	}
	if err == nil && took < wait/4 {
		p.wait = max(wait/2, askWait)
	}
}

// Behind reports whether the bench is known to have more than is here: the next answer may be a full page, over a link that
// was quick a moment ago. Else it is asked for a little only, and may not answer at all.
func (p *Puller) Behind() bool { return p.behind }

// ask puts a question in the bench's pace for questions of its kind. most is how much is wanted at the most.
func (p *Puller) ask(ctx context.Context, pc *pace, what func(context.Context, Ask) (Page, error), a Ask, most int) (Page, error) {
	at, wait := pc.asked()
	if !p.behind {
		at = min(at, firstAsk)
	}
	a.Max, a.Hub = min(at, most), p.Hub
	began := time.Now()
	one, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	page, err := what(one, a)
	if ctx.Err() == nil {
		pc.came(time.Since(began), a.Max, max(len(page.Rows), len(page.Bodies)), err)
	}
	return page, err
}
