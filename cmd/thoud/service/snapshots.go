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
// a list shows of the builds in memory.
type snapshots struct {
	ledger *store.Store
	bench  string
	log    zerolog.Logger

	busy sync.Mutex // one at a time
	done map[string]uint64
}

func newSnapshots(ledger *store.Store, benchName string, log zerolog.Logger) *snapshots {
	return &snapshots{ledger: ledger, bench: benchName, log: log, done: map[string]uint64{}}
}

// later keeps a state without holding its caller up; while one is being kept another is passed over, and the next serves.
func (k *snapshots) later(s bench.State, chain bench.Chain, results bench.Results) {
	if !k.busy.TryLock() {
		return
	}
	go func() {
		defer k.busy.Unlock()
		k.told(k.keep(context.Background(), s, chain, results))
	}()
}

// last keeps the state at the end.
func (k *snapshots) last(s bench.State, chain bench.Chain, results bench.Results) {
	k.busy.Lock()
	defer k.busy.Unlock()
	if chain.N == 0 {
		return
	}
	k.told(k.keep(context.Background(), s, chain, results))
}

func (k *snapshots) told(err error) {
	if err != nil {
		k.log.Warn().Err(err).Msg("the state was not kept; the next start reads more entries")
	}
}

func (k *snapshots) keep(ctx context.Context, s bench.State, chain bench.Chain, results bench.Results) error {
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
	return k.ledger.WriteSnapshot(ctx, s, chain)
}
