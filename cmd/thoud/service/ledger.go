package service

import (
	"context"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/store"
)

// benchLedger is the store as the recorder wants it.
type benchLedger struct {
	s       *store.Store
	bench   string
	metrics *metrics
}

// Record stores an entry with what came of it.
func (l benchLedger) Record(ctx context.Context, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, at pipeline.Position) error {
	err := l.s.Record(ctx, l.bench, e, body, seal, results, store.Checkpoint(at))
	if err == nil {
		l.metrics.onCommitted(e, len(results))
	}
	return err
}

// Quarantine sets a message aside.
func (l benchLedger) Quarantine(ctx context.Context, body []byte, why string, at pipeline.Position) error {
	return l.s.Quarantine(ctx, l.bench, body, why, store.Checkpoint(at))
}

// Build folds a build that is not in memory.
func (l benchLedger) Build(ctx context.Context, job string, upTo uint64) (*bench.Build, bench.Results, error) {
	return l.s.Build(ctx, l.bench, job, upTo)
}

// Engine folds the record of an engine.
func (l benchLedger) Engine(ctx context.Context, engine string, upTo uint64) (*bench.Engine, error) {
	return l.s.Engine(ctx, l.bench, engine, upTo)
}

// Synced is how far into the stream the ledger outlives a power cut.
func (l benchLedger) Synced() pipeline.Position { return pipeline.Position(l.s.Synced().Checkpoint) }

// Has reports whether an entry is stored.
func (l benchLedger) Has(ctx context.Context, id string) (bool, error) {
	return l.s.Has(ctx, l.bench, id)
}
