package service

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
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
	at    int64 // when it was worked out; 0 never
	until int64 // when it changes by itself; 0 not
	words string
}

// NewDoings works out of a hub's ledger.
func NewDoings(forks *Forks) *Doings { return &Doings{last: map[string]doing{}, forks: forks} }

// Of says what benches do, by their names. It works for about as long as it is given, at those first that were worked out longest
// ago or never; a bench that it does not come to is told by what it did at an earlier entry, or by its last entry alone.
func (d *Doings) Of(ctx context.Context, all []hub.Report, patience time.Duration) map[string]string {
	out := map[string]string{}
	end := time.Now().Add(patience)
	all = slices.Clone(all)
	had := d.had(all)
	slices.SortStableFunc(all, func(a, b hub.Report) int { return cmp.Compare(had[a.Line].at, had[b.Line].at) })
	for _, r := range all {
		was := had[r.Line]
		now := time.Now()
		switch {
		case r.N == 0:
			out[r.Bench] = "nothing yet"
			continue
		case was.n == r.N && (was.until == 0 || now.UnixMicro() < was.until):
			out[r.Bench] = was.words
			continue
		case (now.After(end) || ctx.Err() != nil) && was.n > 0:
			out[r.Bench] = fmt.Sprintf("at entry %d: %s", was.n, was.words)
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

// had is what was worked out before.
func (d *Doings) had(all []hub.Report) map[string]doing {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := map[string]doing{}
	for _, r := range all {
		out[r.Line] = d.last[r.Line]
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
	return doing{at.N, sc.Now, until, words + "; last entry " + view.Day(last.Entry.At)}, nil
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
	forks, err := NewForks(s, "")
	if err != nil {
		return nil, err
	}
	return NewDoings(forks).Of(ctx, all, listPatience), forks.Close()
}
