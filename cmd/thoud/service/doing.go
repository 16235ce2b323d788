package service

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/pipeline/monitor/view"
	"thoud/store"
)

// Doings are what the benches of a hub do now, each in a sentence, worked out of the ledger when somebody looks: the build that
// the bench stands at is folded, nothing else, and let go of. The sentence is kept with the entry that it was worked out at.
type Doings struct {
	forks *Forks

	mu   sync.Mutex
	last map[string]doing // by line
}

type doing struct {
	n     uint64
	until int64 // when it changes by itself; 0 not
	words string
}

// NewDoings works out of a hub's ledger.
func NewDoings(forks *Forks) *Doings { return &Doings{last: map[string]doing{}, forks: forks} }

// Of says what benches do, by their names. It works for about as long as it is given; the benches that it does not come to are
// told by their last entry alone, and are worked out when somebody looks again.
func (d *Doings) Of(ctx context.Context, all []hub.Report, patience time.Duration) map[string]string {
	out := map[string]string{}
	end := time.Now().Add(patience)
	for _, r := range all {
		d.mu.Lock()
		had, known := d.last[r.Line]
		d.mu.Unlock()
		now := time.Now()
		switch {
		case r.N == 0:
			out[r.Bench] = "nothing yet"
			continue
		case known && had.n == r.N && (had.until == 0 || now.UnixMicro() < had.until):
			out[r.Bench] = had.words
			continue
		case now.After(end) || ctx.Err() != nil:
			out[r.Bench] = fmt.Sprintf("entry %d; look again for what it does", r.N)
			continue
		}
		next, err := d.work(ctx, r.Line)
		if err != nil {
			out[r.Bench] = "cannot be told: " + err.Error()
			continue
		}
		d.mu.Lock()
		d.last[r.Line] = next
		d.mu.Unlock()
		out[r.Bench] = next.words
	}
	return out
}

// work folds the build that a bench stands at.
func (d *Doings) work(ctx context.Context, line string) (doing, error) {
	k, end, err := d.forks.Kept(ctx, line)
	if err != nil {
		return doing{}, err
	}
	defer end()
	s, name := k.Store, k.In
	at, err := s.End(ctx, name)
	if err != nil {
		return doing{}, err
	}
	last, err := s.Entry(ctx, name, at.N)
	if err != nil {
		return doing{}, err
	}
	job, err := s.Here(ctx, name)
	if err != nil {
		return doing{}, err
	}
	sc := bench.Scene{State: bench.State{Bench: name}, Committed: at.N, Now: time.Now().UnixMicro(), Newest: map[string]bench.Sample{}}
	if job != "" {
		if sc.State, _, err = s.StateOf(ctx, name, job); err != nil {
			return doing{}, err
		}
		results, err := s.InForce(ctx, name, job)
		if err != nil && !errors.Is(err, store.ErrNotThere) {
			return doing{}, err
		}
		sc.Results = results
	}
	words, until := view.Doing(sc)
	return doing{at.N, until, words + "; last entry " + view.Day(last.Entry.At)}, nil
}

// listPatience is how long a command works on what benches do.
const listPatience = 10 * time.Second

// DoingIn says what the benches of a hub's state folder do.
func DoingIn(ctx context.Context, dir string, all []hub.Report) (map[string]string, error) {
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, LedgerName))
	if err != nil {
		return nil, err
	}
	defer s.Close()
	scratch, err := os.MkdirTemp("", "thoud-histories-")
	if err != nil {
		return nil, err
	}
	forks, err := NewForks(s, scratch)
	if err != nil {
		return nil, err
	}
	return NewDoings(forks).Of(ctx, all, listPatience), forks.Close()
}
