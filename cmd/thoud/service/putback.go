package service

import (
	"context"
	"fmt"
	"slices"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/store"
)

// What is put back into a stream that has lost it: the newest entries, two builds and more. The ports open only
// afterwards, so it must not take long on a slow disk; what lies further back is in the ledger and in its backups.
const (
	putBackEntries = 2000
	putBackBytes   = 32 << 20
)

// lacks reports whether the stream has lost something that the ledger has. Where the ledger itself lacks entries that came
// later, the stream stays as it is: it is all there is to look into.
func lacks(before store.Loaded, stream bus.Holding, aside pipeline.Aside) bool {
	if aside.Entries > 0 || before.Chain.N == 0 || before.Checkpoint.Generation == "" {
		return false
	}
	return stream.Generation != before.Checkpoint.Generation || stream.Last < before.Checkpoint.Seq || stream.Missing() > 0
}

// putBack gives the stream what it has lost and the ledger has, so that the last entries are there twice again. It says
// in words what was done; where that fails the bench goes on, and it is tried again at the next start.
func (s *Service) putBack(ctx context.Context, ledger *store.Store, b *bus.Server) (at pipeline.Position, told bench.Notice, err error) {
	if err := ledger.AwaitSync(ctx); err != nil {
		return at, told, err
	}
	var newest []bus.Kept
	var first, last uint64
	size := 0
	err = ledger.EachEntry(ctx, s.Settings.Bench, store.Filter{Limit: putBackEntries}, func(r store.EntryRow) bool {
		if size += len(r.Body); size > putBackBytes {
			return false
		}
		newest = append(newest, bus.Kept{ID: r.Entry.ID, Kind: r.Entry.Kind, Body: r.Body})
		first, last = r.Entry.N, max(last, r.Entry.N)
		return true
	})
	if err != nil {
		return at, told, err
	}
	slices.Reverse(newest)
	at, err = b.PutBack(ctx, newest, func(done, total int) { s.stillStarting("putting back into the stream", done, total) })
	if err == nil {
		err = ledger.Advance(ctx, s.Settings.Bench, store.Checkpoint(at))
	}
	if err != nil {
		return at, told, err
	}
	words := fmt.Sprintf("entries %d to %d were put back from the ledger into the stream: the newest are there twice again", first, last)
	return at, bench.Notice{At: time.Now().UnixMicro(), Source: "stream put back", Words: words, Stands: true}, nil
}
