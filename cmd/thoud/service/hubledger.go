package service

import (
	"context"
	"errors"
	"sync"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/store"
)

// hubLedger is the store as a hub keeps its benches in it. One goroutine writes, and whatever waits goes into one
// transaction: a commit costs the same for one bench and for sixty.
type hubLedger struct {
	s    *store.Store
	work chan taking
	wg   sync.WaitGroup
}

// taking is what one bench waits for.
type taking struct {
	t    store.Taking
	done chan error
}

var _ hub.Lines = (*hubLedger)(nil)

// takenAtOnce is how many may wait for one transaction.
const takenAtOnce = 64

func newHubLedger(s *store.Store) *hubLedger {
	l := &hubLedger{s: s, work: make(chan taking, takenAtOnce)}
	l.wg.Go(l.write)
	return l
}

func (l *hubLedger) close() {
	close(l.work)
	l.wg.Wait()
}

func (l *hubLedger) write() {
	ctx := context.Background()
	for first := range l.work {
		waiting := []taking{first}
		for more := true; more && len(waiting) < takenAtOnce; {
			select {
			case t, ok := <-l.work:
				if more = ok; ok {
					waiting = append(waiting, t)
				}
			default:
				more = false
			}
		}
		all := make([]store.Taking, len(waiting))
		for i, w := range waiting {
			all[i] = w.t
		}
		err := l.s.Take(ctx, all)
		if err == nil || len(waiting) == 1 {
			for _, w := range waiting {
				w.done <- err
			}
			continue
		}
		for _, w := range waiting { // one bench's fault is no other's
			w.done <- l.s.Take(ctx, []store.Taking{w.t})
		}
	}
}

// hubFault says of a damaged ledger what to do at a hub, where it is no more than a copy.
func hubFault(err error) error {
	var d *store.DamagedError
	if !errors.As(err, &d) {
		return err
	}
	return &store.DamagedError{Path: d.Path, What: d.What, Err: d.Err,
		Do: "keep the file, stop the hub, and put a backup in its place or nothing: the benches have all of it, and are asked again for what is missing"}
}

// Take stores what was pulled of a bench, with what waits of others.
func (l *hubLedger) Take(ctx context.Context, t hub.Taking) error {
	out := store.Taking{Line: t.Line}
	for _, e := range t.Entries {
		out.Entries = append(out.Entries, store.TakenEntry(e))
	}
	for _, r := range t.Runs {
		out.Runs = append(out.Runs, store.RunRow(r))
	}
	if t.Begin != nil {
		line := store.Line(*t.Begin)
		out.Begin = &line
	}
	if t.Set != nil {
		out.Set = func(s *store.Line) {
			line := hub.Line(*s)
			t.Set(&line)
			*s = store.Line(line)
		}
	}
	w := taking{out, make(chan error, 1)}
	select {
	case l.work <- w:
	case <-ctx.Done():
		return ctx.Err()
	}
	return hubFault(<-w.done)
}

// Lines gives every line.
func (l *hubLedger) Lines(ctx context.Context) ([]hub.Line, error) {
	all, err := l.s.Lines(ctx)
	if err != nil {
		return nil, hubFault(err)
	}
	out := make([]hub.Line, len(all))
	for i, line := range all {
		out[i] = hub.Line(line)
	}
	return out, nil
}

// Span gives entries of a line.
func (l *hubLedger) Span(ctx context.Context, line string, from uint64, most, bytes int) (hub.Given, error) {
	g, err := l.s.Span(ctx, line, from, most, bytes)
	return hub.Given(g), err
}

// SealAt is the seal of an entry of a line.
func (l *hubLedger) SealAt(ctx context.Context, line string, n uint64) (bench.Seal, bool, error) {
	return l.s.SealAt(ctx, line, n)
}

// errNoLine marks a line that is not there.
var errNoLine = errors.New("no such line")

// RunningAt is the sum over the first k results of a line, those it shares among them.
func (l *hubLedger) RunningAt(ctx context.Context, line string, k int) ([32]byte, bool, error) {
	return runningAt(ctx, l.s, line, k)
}

func runningAt(ctx context.Context, s *store.Store, line string, k int) ([32]byte, bool, error) {
	all, err := s.Lines(ctx)
	if err != nil {
		return [32]byte{}, false, err
	}
	for range len(all) + 1 {
		at := -1
		for i := range all {
			if all[i].Name == line {
				at = i
			}
		}
		switch {
		case at < 0:
			return [32]byte{}, false, errNoLine
		case k <= all[at].Shared && all[at].Parent != "":
			line = all[at].Parent
		default:
			_, sum, ok, err := s.RunAt(ctx, line, k-all[at].Shared)
			if k == all[at].Shared {
				sum = all[at].Begin
			}
			return sum, ok, err
		}
	}
	return [32]byte{}, false, errNoLine
}

// CheckRuns works out the sums after results.
func (l *hubLedger) CheckRuns(before [32]byte, runs []hub.Run) (sums [][32]byte, entries []uint64, err error) {
	for _, r := range runs {
		sum, n, err := store.CheckRun(before, store.RunRow(r))
		if err != nil {
			return nil, nil, err
		}
		before = sum
		sums, entries = append(sums, sum), append(entries, n)
	}
	return sums, entries, nil
}
