package service

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"thoud/capture/bench"
	"thoud/pipeline/hub"
	"thoud/pipeline/monitor/view"
	"thoud/store"
)

// Forks gives the further histories of a hub's benches whole. The hub keeps such a history from where it parts from another;
// pages and sheets read a ledger from its first entry. So what it shares and what is its own are put together in a ledger beside
// the hub's, made when somebody looks and thrown away with the folder: it is a copy of what the hub has, and no truth of its own.
type Forks struct {
	// Progress hears how many entries of how many are put together; nil where nobody waits.
	Progress func(done, total int)

	hub *store.Store
	dir string

	mu   sync.Mutex
	open map[string]*fork // by line
}

type fork struct {
	mu    sync.Mutex // held while it is brought up to date
	s     *store.Store
	lines []store.Line // from the first to this one
	users int
}

// NewForks keeps its copies in a folder of its own, which it empties; without one, in a new one among the temporary files, made
// when it is needed.
func NewForks(s *store.Store, dir string) (*Forks, error) {
	if dir != "" {
		if err := os.RemoveAll(dir); err != nil {
			return nil, fmt.Errorf("copies of further histories: %w", err)
		}
	}
	return &Forks{hub: s, dir: dir, open: map[string]*fork{}}, nil
}

// Close throws the copies away.
func (f *Forks) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	var err error
	for line, o := range f.open {
		err = errors.Join(err, o.s.Close())
		delete(f.open, line)
	}
	if f.dir == "" {
		return err
	}
	return errors.Join(err, os.RemoveAll(f.dir))
}

// Kept is a line of the hub's ledger as it is read: a first history as it lies there, another one put together. end is to be
// called once nobody reads it any more. Wraps errNoLine.
func (f *Forks) Kept(ctx context.Context, line string) (k Kept, end func(), err error) {
	name, number := hub.BenchOf(line)
	if number == 1 {
		return Kept{Name: line, Store: f.hub, In: line}, func() {}, nil
	}
	o, err := f.use(ctx, line)
	if err != nil {
		return Kept{}, nil, err
	}
	end = sync.OnceFunc(func() { f.leave(line, o) })
	if err := f.Fetch(ctx, line); err != nil {
		end()
		return Kept{}, nil, err
	}
	return Kept{Name: line, Store: o.s, In: name, From: o.lines[len(o.lines)-1].Parted.N}, end, nil
}

func (f *Forks) use(ctx context.Context, line string) (*fork, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if o := f.open[line]; o != nil {
		o.users++
		return o, nil
	}
	lines, err := f.hub.Lines(ctx)
	if err != nil {
		return nil, err
	}
	o := &fork{users: 1}
	for want := line; want != ""; {
		i := slices.IndexFunc(lines, func(l store.Line) bool { return l.Name == want })
		if i < 0 || len(o.lines) > len(lines) {
			return nil, fmt.Errorf("%s: %w", want, errNoLine)
		}
		o.lines = append([]store.Line{lines[i]}, o.lines...)
		want = lines[i].Parent
	}
	if f.dir == "" {
		if f.dir, err = os.MkdirTemp("", "thoud-histories-"); err != nil {
			return nil, err
		}
	}
	path := filepath.Join(f.dir, line)
	if err := os.MkdirAll(path, 0o750); err != nil {
		return nil, err
	}
	if o.s, err = store.Open(ctx, filepath.Join(path, LedgerName)); err != nil {
		return nil, err
	}
	f.open[line] = o
	return o, nil
}

func (f *Forks) leave(line string, o *fork) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if o.users--; o.users == 0 && f.open[line] == o {
		_ = o.s.Close() // a copy: what it lacks is fetched again
		delete(f.open, line)
	}
}

// Fetch brings the copy of a history up to date, where somebody reads it.
func (f *Forks) Fetch(ctx context.Context, line string) error {
	f.mu.Lock()
	o := f.open[line]
	f.mu.Unlock()
	if o == nil {
		return nil
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	name, _ := hub.BenchOf(line)
	if all, err := o.s.Lines(ctx); err != nil {
		return err
	} else if len(all) == 0 {
		if err := o.s.Take(ctx, []store.Taking{{Line: name, Begin: &store.Line{Name: name}}}); err != nil {
			return err
		}
	}
	for i, l := range o.lines {
		to, told := uint64(store.Newest), -1
		if i+1 < len(o.lines) {
			to, told = o.lines[i+1].Parted.N, o.lines[i+1].Shared
		}
		if err := f.entries(ctx, o, name, l.Name, to); err != nil {
			return fmt.Errorf("copy of %s: entries of %s: %w", line, l.Name, err)
		}
		if err := f.results(ctx, o.s, name, l, told); err != nil {
			return fmt.Errorf("copy of %s: results of %s: %w", line, l.Name, err)
		}
	}
	return nil
}

// entries copies those of one line up to a number. What others go on from must be there.
func (f *Forks) entries(ctx context.Context, o *fork, name, line string, to uint64) error {
	end, err := o.s.End(ctx, name)
	for err == nil && end.N < to {
		var sp store.Span
		if sp, err = f.hub.Span(ctx, line, end.N+1, hub.MostEntries, hub.MostBytes); err != nil {
			return err
		}
		if len(sp.Bodies) == 0 {
			if to != store.Newest || end.N < sp.End.N {
				return fmt.Errorf("entry %d %w", end.N+1, store.ErrNotThere)
			}
			return nil
		}
		t := store.Taking{Line: name}
		for _, body := range sp.Bodies {
			if end.N == to {
				break
			}
			e, err := bench.Decode(body)
			if err == nil {
				end, err = end.Next(e, body)
			}
			if err != nil {
				return err
			}
			t.Entries = append(t.Entries, store.TakenEntry{Entry: e, Body: body, Seal: end.Seal})
		}
		err = o.s.Take(ctx, []store.Taking{t})
		if f.Progress != nil {
			f.Progress(int(end.N), int(max(end.N, o.lines[len(o.lines)-1].End.N)))
		}
	}
	return err
}

// results copies those of one line up to a count, that of all of the history; −1 for all.
func (f *Forks) results(ctx context.Context, into *store.Store, name string, l store.Line, to int) error {
	for {
		have, err := into.Count(ctx, name)
		if err != nil || to >= 0 && have.Results >= to || have.Results < l.Shared {
			return err // what is shared comes first
		}
		row, _, ok, err := f.hub.RunAt(ctx, l.Name, have.Results-l.Shared)
		if err != nil || !ok {
			return err
		}
		most := hub.MostEntries
		if to >= 0 {
			most = min(most, to-have.Results)
		}
		sp, err := f.hub.RunSpan(ctx, l.Name, row, most, hub.MostBytes)
		if err != nil || len(sp.Rows) == 0 {
			return err
		}
		if err := into.Take(ctx, []store.Taking{{Line: name, Runs: sp.Rows}}); err != nil {
			return err
		}
	}
}

// ordinals name the histories of a bench.
var ordinals = []string{"", "first", "second", "third", "fourth", "fifth"}

// LineTitle says which history of a bench a line is, in words; a first one is the bench.
func LineTitle(line string) string {
	name, k := hub.BenchOf(line)
	switch {
	case k == 1:
		return name
	case k < len(ordinals):
		return name + ", " + ordinals[k] + " history"
	}
	return fmt.Sprintf("%s, history %d", name, k)
}

// PartedWords say where a further history parts from the one before it.
func PartedWords(ctx context.Context, s *store.Store, l store.Line) string {
	words := fmt.Sprintf("after entry %d of the %s", l.Parted.N, lineOrdinal(l.Parent))
	if first, err := s.Entry(ctx, l.Name, l.Parted.N+1); err == nil {
		words = "since " + view.Day(first.Entry.At) + ", " + words
	}
	return words
}

func lineOrdinal(line string) string {
	if _, k := hub.BenchOf(line); k < len(ordinals) {
		return ordinals[k]
	}
	return line
}
