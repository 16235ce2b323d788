package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"sync"

	"thoud/calc"
	"thoud/capture/bench"
)

var errOther = errors.New("speaks of another result")

// readRun is a stored result, decoded without its request.
type readRun struct {
	storedRun
	result     bench.Result
	unreadable error
}

// runReader gives the stored results in the order of their entries, as the entries go by.
type runReader struct {
	rows    chan readRun
	err     error
	next    *readRun
	late    []readRun // computed again after later ones were stored
	running hash
	count   int
	sums    func(count int, running hash) // hears the sum after each; nil for nobody
	cancel  context.CancelFunc
}

func newRunReader(ctx context.Context, q queryer, benchName string) *runReader {
	ctx, cancel := context.WithCancel(ctx)
	r := &runReader{rows: make(chan readRun, 64), cancel: cancel}
	go func() {
		defer close(r.rows)
		r.err = eachRun(ctx, q, "bench = ?", " ORDER BY 1", []any{benchName}, func(s storedRun) error {
			read := readRun{storedRun: s}
			read.result, read.unreadable = s.light()
			select {
			case r.rows <- read:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
	}()
	return r
}

func (r *runReader) stop() {
	r.cancel()
	for range r.rows { // let the reader end before its transaction does
	}
}

// peek gives the next row without taking it.
func (r *runReader) peek() *readRun {
	if r.next != nil {
		return r.next
	}
	s, ok := <-r.rows
	if !ok {
		return nil
	}
	if s.bad == nil {
		r.running = runningAfter(r.running, s.asked, s.body)
	}
	s.wantRunning = r.running
	if r.count++; r.sums != nil {
		r.sums(r.count, r.running)
	}
	if !s.whole() {
		r.running = s.running // one that is wrong is found once
	}
	r.next = &s
	return r.next
}

// of gives the results of an entry.
func (r *runReader) of(n uint64) ([]readRun, error) {
	var out []readRun
	for s := r.peek(); s != nil && s.n <= n; s = r.peek() {
		if s.n == n {
			out = append(out, *s)
		} else {
			r.late = append(r.late, *s)
		}
		r.next = nil
	}
	if r.next == nil && r.err != nil {
		return nil, r.err
	}
	return out, nil
}

// rest gives what is left: results computed again later, and such of entries that are not there.
func (r *runReader) rest() ([]readRun, error) {
	out := r.late
	for s := r.peek(); s != nil; s = r.peek() {
		out = append(out, *s)
		r.next = nil
	}
	return out, r.err
}

// recompute computes results again beside the fold, each distinct request once.
type recompute struct {
	v     *verifier
	asked *sql.Stmt // gives the body of a request by its hash
	ctx   context.Context
	work  chan toCompute
	wg    sync.WaitGroup
	once  sync.Once

	mu    sync.Mutex
	known map[hash]*answer
	order []hash // oldest first
}

// toCompute is one result to be held against what its request gives now.
type toCompute struct {
	run    storedRun
	result bench.Result
	bound  *calc.Request // what was asked, where it was bound again and has the same hash; nil: it is read
}

// answer is what a request gives; done is closed once it is there.
type answer struct {
	done   chan struct{}
	result calc.Result
	err    error
}

const (
	computers    = 2   // goroutines that compute
	answersKept  = 256 // a request is asked again, if at all, within a few entries
	computeAhead = 32  // results waiting to be computed: memory stays flat
)

func startRecompute(ctx context.Context, s *Store, v *verifier) (*recompute, error) {
	asked, err := s.reader.PrepareContext(ctx, requestBody)
	if err != nil {
		return nil, err
	}
	r := &recompute{v: v, asked: asked, ctx: ctx, work: make(chan toCompute, computeAhead), known: map[hash]*answer{}}
	for range computers {
		r.wg.Go(func() {
			for t := range r.work {
				r.one(t)
				v.step()
			}
		})
	}
	return r, nil
}

func (r *recompute) later(t toCompute) {
	select {
	case r.work <- t:
	case <-r.ctx.Done():
	}
}

func (r *recompute) stop() {
	r.once.Do(func() {
		close(r.work)
		r.wg.Wait()
		r.asked.Close()
	})
}

func (r *recompute) one(t toCompute) {
	stored := t.result
	m, ok := calc.Find(stored.Method)
	if !ok || m.Version != stored.Version {
		r.v.mu.Lock()
		r.v.rep.Unknown = append(r.v.rep.Unknown, Finding{t.run.row(), fmt.Sprintf("%s, version %d: not recomputable by this build", stored.Method, stored.Version), t.run.n})
		r.v.mu.Unlock()
		return
	}
	a := r.answer(t)
	switch {
	case errors.Is(a.err, errRefusedNow):
		if stored.Refused == "" {
			r.v.wrong(t.run.n, t.run.row(), "its request is refused now: %v", a.err)
		}
	case a.err != nil:
		r.v.wrong(t.run.n, t.run.row(), "its request cannot be read: %v", a.err)
	case stored.Refused != "" && a.result.Refused == "" && len(stored.Figures) == 0:
		// Refused before anything was computed: an input could not be bound. What was asked then is not kept.
	default:
		if what := differs(stored.Result, a.result); what != "" {
			r.v.wrong(t.run.n, t.run.row(), "%s", what)
		}
	}
}

// errRefusedNow marks a request that this build does not take.
var errRefusedNow = errors.New("refused")

func (r *recompute) answer(t toCompute) *answer {
	asked := t.result.Asked
	r.mu.Lock()
	a, known := r.known[asked]
	if !known {
		a = &answer{done: make(chan struct{})}
		r.known[asked] = a
		if r.order = append(r.order, asked); len(r.order) > answersKept {
			delete(r.known, r.order[0])
			r.order = r.order[1:]
		}
	}
	r.mu.Unlock()
	if known {
		<-a.done
		return a
	}
	defer close(a.done)
	req, err := r.request(t)
	if err != nil {
		a.err = err
		return a
	}
	if a.result, err = calc.Run(req); err != nil {
		a.err = fmt.Errorf("%w: %w", errRefusedNow, err)
	}
	return a
}

// request reads what was asked: from the result's own body in the first form, else from where requests are kept, where
// it must have the hash it goes by. One that was bound again to the same hash need not be decoded.
func (r *recompute) request(t toCompute) (calc.Request, error) {
	switch {
	case t.run.whole():
		full, err := t.run.full()
		return full.Request, err
	case t.bound != nil:
		return *t.bound, requestOf(r.asked.QueryRowContext(r.ctx, t.run.asked[:]), t.run.asked, func([]byte) {})
	}
	return readRequest(r.asked.QueryRowContext(r.ctx, t.run.asked[:]), t.run.asked)
}
