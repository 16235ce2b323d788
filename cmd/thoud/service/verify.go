package service

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"sync"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
	"thoud/pipeline"
	"thoud/pipeline/hub"
	"thoud/store"
)

// Check is how a ledger is verified: bound again by the recorder's own rules, frames decoded again by the sealed
// profiles.
func Check() store.Check {
	return store.Check{
		Bind: func(after bench.State, e bench.Entry, inForce bench.Results, answer func(bench.Result) calc.Result) []bench.Result {
			return pipeline.ComputeWith(after, e, inForce, answer)
		},
		Values: newSealedProfiles().values,
		Own:    bench.RulesNow(Version()),
	}
}

// VerifyHistory checks one history of a ledger. A further one of a bench at a hub is checked twice: its rows as they lie there, from
// where it parts from another; then, put together with what it shares, all of it, folded, bound and computed again from the first
// entry.
func VerifyHistory(ctx context.Context, s *store.Store, line string, c store.Check) (rep store.Report, err error) {
	rows, err := s.Verify(ctx, line, c)
	if _, k := hub.BenchOf(line); k == 1 || err != nil {
		return rows, err
	}
	forks, err := NewForks(s, "")
	if err != nil {
		return rows, err
	}
	defer func() { err = errors.Join(err, forks.Close()) }()
	k, end, err := forks.Kept(ctx, line)
	if err != nil {
		return notTogether(ctx, s, line, c, rows, err)
	}
	defer end()
	if rep, err = k.Store.Verify(ctx, k.In, c); err != nil {
		return rows, err
	}
	rep.Also(rows.Wrong)
	// The sums were made anew by the way: they must be those that the bench told.
	made, err := k.Store.Note(ctx, k.In)
	if err != nil {
		return rows, err
	}
	told, ok, err := runningAt(ctx, s, line, made.Results)
	if err == nil && (!ok || hex.EncodeToString(told[:]) != made.Running) {
		rep.Also([]store.Finding{{Row: fmt.Sprintf("the first %d results", made.Results),
			What: "they do not sum up to what the bench told: one that it shares with the history before it was changed, put in or taken out"}})
	}
	return rep, err
}

// notTogether says why a history could not be put together: by the rows of it that are wrong, and by those of the history that it
// shares its beginning with. Where all of those are right it gives the fault.
func notTogether(ctx context.Context, s *store.Store, line string, c store.Check, rows store.Report, fault error) (store.Report, error) {
	lines, err := s.Lines(ctx)
	if err != nil {
		return rows, err
	}
	for _, l := range lines {
		if l.Name != line || l.Parent == "" {
			continue
		}
		c.Notes, c.Seals = nil, nil // of this history
		before, err := VerifyHistory(ctx, s, l.Parent, c)
		if err != nil {
			return rows, err
		}
		rows.Also(before.Wrong)
	}
	if len(rows.Wrong) == 0 {
		return rows, fault
	}
	return rows, nil
}

// sealedProfiles keeps the profiles that one verification met last: every reading of a gauge speaks of the same one.
type sealedProfiles struct {
	mu    sync.Mutex
	known map[string]devices.Profile
}

// profilesKept is how many: more than there are gauges on a bench.
const profilesKept = 64

func newSealedProfiles() *sealedProfiles {
	return &sealedProfiles{known: map[string]devices.Profile{}}
}

func (s *sealedProfiles) profile(text string) (devices.Profile, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	p, ok := s.known[text]
	if ok {
		return p, nil
	}
	p, err := devices.ParseProfile("sealed", []byte(text))
	if err == nil {
		if len(s.known) >= profilesKept {
			clear(s.known)
		}
		s.known[text] = p
	}
	return p, err
}

// values decodes bytes by a profile's text.
func (s *sealedProfiles) values(text, channel string, frames [][]byte) ([]quantity.Value, error) {
	p, err := s.profile(text)
	if err != nil {
		return nil, err
	}
	d, err := p.NewDecoder()
	if err != nil {
		return nil, err
	}
	var out []quantity.Value
	first := true
	take := func(s devices.Sample, err error) {
		if err != nil || !s.Value.Valid() {
			return
		}
		if first && channel == "" {
			channel = s.Channel
		}
		first = false
		if s.Channel == channel {
			out = append(out, s.Value)
		}
	}
	d.Idle(take)
	for _, frame := range frames {
		d.Feed(frame, take)
	}
	d.Idle(take)
	return out, nil
}
