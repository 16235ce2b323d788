package service

import (
	"context"
	"fmt"
	"sync"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/store"
)

// snapshots keeps the state now and then, beside the recorder: a start then need not read every entry. It keeps too what
// a list shows of the builds in memory, and what pages of many builds take from those that are not worked on just now.
type snapshots struct {
	ledger *store.Store
	bench  string
	log    zerolog.Logger

	busy  sync.Mutex // one at a time
	done  map[string]uint64
	gists map[string]reckoned
}

// reckoned is how far a build and the record of its engine were when it was reckoned up.
type reckoned struct{ last, record uint64 }

func newSnapshots(ledger *store.Store, benchName string, log zerolog.Logger) *snapshots {
	return &snapshots{ledger: ledger, bench: benchName, log: log, done: map[string]uint64{}, gists: map[string]reckoned{}}
}

// later keeps a state without holding its caller up; while one is being kept another is passed over, and the next serves.
func (k *snapshots) later(s bench.State, chain bench.Chain, results bench.Results) {
	if !k.busy.TryLock() {
		return
	}
	go func() {
		defer k.busy.Unlock()
		k.told(k.keep(context.Background(), s, chain, results, s.Place.Build))
	}()
}

// last keeps the state at the end.
func (k *snapshots) last(s bench.State, chain bench.Chain, results bench.Results) {
	k.busy.Lock()
	defer k.busy.Unlock()
	if chain.N == 0 {
		return
	}
	k.told(k.keep(context.Background(), s, chain, results, ""))
}

func (k *snapshots) told(err error) {
	if err != nil {
		k.log.Warn().Err(err).Msg("the state was not kept; the next start reads more entries")
	}
}

// keep keeps a state. Of the build that is worked on, "" none, pages of many builds ask the memory.
func (k *snapshots) keep(ctx context.Context, s bench.State, chain bench.Chain, results bench.Results, working string) error {
	sums := map[string]bench.Summary{}
	for _, b := range s.Builds {
		if k.done[b.Job] != b.Last {
			sums[b.Job] = bench.Summarise(b, results)
		}
	}
	if err := k.ledger.Summarise(ctx, k.bench, sums); err != nil {
		return fmt.Errorf("summaries: %w", err)
	}
	for job, sum := range sums {
		k.done[job] = sum.UpTo
	}
	if err := k.keepGists(ctx, s, results, working); err != nil {
		return err
	}
	return k.ledger.WriteSnapshot(ctx, s, chain)
}

// keepGists keeps what pages of many builds take from the builds in memory.
func (k *snapshots) keepGists(ctx context.Context, s bench.State, results bench.Results, working string) error {
	for _, b := range s.Builds {
		at := reckoned{last: b.Last}
		if b.Record != nil {
			at.record = b.Record.N
		}
		if b.Job == working || k.gists[b.Job] == at {
			continue
		}
		if err := k.ledger.KeepGists(ctx, k.bench, s.N, map[string]bench.Gist{b.Job: bench.GistOf(b, results)}); err != nil {
			return err
		}
		k.gists[b.Job] = at
	}
	return nil
}
