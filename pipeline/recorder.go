// Package pipeline takes entries from the bus to the ledger: the recorder checks the chain, computes what an entry
// brings and stores both in one transaction. It refuses nothing that can be kept: what does not follow, or cannot be
// decoded, is quarantined with an alarm; what cannot be computed is a refused result, and the reading stays.
package pipeline

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
)

// Message is one entry as the bus delivers it.
type Message struct {
	Seq  uint64
	Body []byte
}

// Source delivers the entries of a bench in order.
type Source interface {
	// Next waits for the message after the last one given; ErrDry ends a drain.
	Next(ctx context.Context) (Message, error)
	// Generation names the stream: another one means another stream, begun anew.
	Generation() string
	// Trim lets the stream forget messages below a sequence.
	Trim(ctx context.Context, below uint64) error
}

// ErrDry means that every message there was when the drain began has been given.
var ErrDry = errors.New("no more messages")

// Ledger is where entries and results are kept for good. Each call is one transaction.
type Ledger interface {
	Record(ctx context.Context, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, at Position) error
	Quarantine(ctx context.Context, body []byte, why string, at Position) error
	Has(ctx context.Context, id string) (bool, error)
	// Build folds a build that is not in memory, as it was after an entry.
	Build(ctx context.Context, job string, upTo uint64) (*bench.Build, bench.Results, error)
	// Engine folds the record of an engine, as it was after an entry.
	Engine(ctx context.Context, engine string, upTo uint64) (*bench.Engine, error)
	// Synced is the stream's sequence up to which the ledger outlives a power cut.
	Synced() Position
}

// Position is how far into which stream the ledger is.
type Position struct {
	Generation string
	Seq        uint64
}

// Recorder is the one writer of a bench's ledger.
type Recorder struct {
	Ledger Ledger
	Tell   func(bench.Outcome)
	Alarm  func(source, words string) // stands until it is taken back with empty words
	Log    zerolog.Logger
	Wait   func(failures int) time.Duration
	// Keep is how many recorded messages stay in the stream, for a ledger restored from a copy.
	Keep uint64
	// Snapshot, where not nil, is handed the state every so many entries, to keep it; it must not hold the recorder up.
	Snapshot func(bench.State, bench.Chain, bench.Results)
	Fold     bench.Fold

	State   bench.State
	Chain   bench.Chain
	Results bench.Results

	sinceTrim, sinceSnapshot int
	aside                    Aside
}

// Aside is what of this bench's own entries was set aside because one before it is missing.
type Aside struct {
	Entries uint64 // how many
	First   uint64 // the number of the first
	Last    uint64
}

// Found is an entry that was found elsewhere than in what the stream gives.
type Found struct {
	N    uint64
	Prev string
	Body []byte
}

// Rescue records what was found beyond the ledger's end and the stream does not give any more. Each is taken only where
// the next one found is sealed onto it: nothing else says that its bytes are those that were written. What cannot be
// taken is set aside. found is in the order of its numbers.
func (r *Recorder) Rescue(ctx context.Context, found []Found, at Position) error {
	for i, f := range found {
		if f.N <= r.Chain.N {
			continue
		}
		m := Message{Seq: at.Seq, Body: f.Body}
		e, err := bench.Decode(f.Body)
		if err != nil {
			continue
		}
		next, follows := r.Chain.Next(e, f.Body)
		confirmed := slices.ContainsFunc(found[i+1:], func(l Found) bool { return l.N == f.N+1 && l.Prev == next.Seal.String() })
		switch {
		case follows == nil && confirmed:
			err = r.record(ctx, m, at)
		case follows == nil:
			follows = errors.New("found behind damage in the stream's file, and nothing is sealed onto it that would say it is as it was written")
			fallthrough
		default:
			err = r.quarantine(ctx, m, follows.Error(), at)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// SetAside tells what was set aside of the bench's own entries so far.
func (r *Recorder) SetAside() Aside { return r.aside }

// snapshotEvery is how many entries are recorded between two snapshots.
const snapshotEvery = 1000

// Run records until ctx ends, or returns nil when the source is dry.
func (r *Recorder) Run(ctx context.Context, src Source) error {
	for {
		m, err := src.Next(ctx)
		switch {
		case errors.Is(err, ErrDry):
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			return fmt.Errorf("recorder: %w", err)
		}
		if err := r.record(ctx, m, Position{src.Generation(), m.Seq}); err != nil {
			return err
		}
		r.trim(ctx, src, m.Seq)
	}
}

// trimEvery is how many entries are recorded between two trims of the stream.
const trimEvery = 1000

func (r *Recorder) trim(ctx context.Context, src Source, seq uint64) {
	if r.sinceTrim++; r.sinceTrim < trimEvery {
		return
	}
	// What is committed but not yet forced to the disk is in the stream alone, after a power cut.
	synced := r.Ledger.Synced()
	if synced.Generation != src.Generation() || min(seq, synced.Seq) <= r.Keep {
		return
	}
	r.sinceTrim = 0
	if err := src.Trim(ctx, min(seq, synced.Seq)-r.Keep); err != nil {
		r.Log.Warn().Err(err).Msg("stream not trimmed; tried again later")
	}
}

// record keeps one message. It returns only when it is kept, or when ctx ends.
func (r *Recorder) record(ctx context.Context, m Message, at Position) error {
	e, err := bench.Decode(m.Body)
	if err != nil {
		return r.quarantine(ctx, m, fmt.Sprintf("cannot be decoded: %v", err), at)
	}
	if e.N <= r.Chain.N {
		known := false
		if err := r.insist(ctx, func() (err error) { known, err = r.Ledger.Has(ctx, e.ID); return err }); err != nil {
			return err
		}
		if known {
			return nil // delivered before
		}
	}
	chain, err := r.Chain.Next(e, m.Body)
	if err != nil {
		return r.quarantine(ctx, m, err.Error(), at)
	}
	if err := r.load(ctx, e); err != nil {
		return err
	}
	next, err := r.Fold.Apply(r.State, e)
	if err != nil {
		r.Log.Error().Err(err).Msg("entry kept, but it means nothing here")
	}
	results := r.compute(next, e)
	if err := r.insist(ctx, func() error { return r.Ledger.Record(ctx, e, m.Body, chain.Seal, results, at) }); err != nil {
		return err
	}
	r.State, r.Chain, r.Results = next, chain, r.Results.With(bench.Light(results)...)
	r.Tell(bench.Outcome{N: e.N, ID: e.ID, Results: results})
	r.rest()
	return nil
}

// load brings into memory what an entry needs.
func (r *Recorder) load(ctx context.Context, e bench.Entry) error {
	for _, part := range r.State.Lacks(bench.Parts(e)) {
		err := r.insist(ctx, func() error {
			if part.Engine != "" {
				g, err := r.Ledger.Engine(ctx, part.Engine, e.N-1)
				if err == nil {
					r.State = r.State.JoinRecord(g)
				}
				return err
			}
			b, results, err := r.Ledger.Build(ctx, part.Build, e.N-1)
			if err == nil {
				r.State, r.Results = r.State.Join(b), r.Results.Beside(results)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// rest lets go of builds that nobody touched for long, and keeps a snapshot now and then.
func (r *Recorder) rest() {
	if r.sinceSnapshot++; r.sinceSnapshot >= snapshotEvery && r.Snapshot != nil {
		r.sinceSnapshot = 0
		r.Snapshot(r.State, r.Chain, r.Results)
	}
	if len(r.State.Builds) <= bench.InWork {
		return
	}
	if r.Snapshot != nil {
		r.Snapshot(r.State, r.Chain, r.Results) // it reckons up the build that goes
	}
	var gone []string
	r.State, gone = r.State.Rest(bench.InWork)
	for _, job := range gone {
		r.Results = r.Results.Without(job)
	}
}

// compute keeps a fault of a method's program from stopping the ledger.
func (r *Recorder) compute(s bench.State, e bench.Entry) (results []bench.Result) {
	defer func() {
		if p := recover(); p != nil {
			r.Log.Error().Interface("panic", p).Uint64("n", e.N).Msg("computation failed; the entry is kept without it")
			results = nil
		}
	}()
	return Compute(s, e, r.Results)
}

func (r *Recorder) quarantine(ctx context.Context, m Message, why string, at Position) error {
	r.Log.Error().Uint64("seq", m.Seq).Str("why", why).Msg("message quarantined")
	r.Alarm("quarantine", fmt.Sprintf("message %d does not belong to this ledger and is set aside: %s. Is a second bench using this name? thoud quarantine list shows what was set aside", m.Seq, why))
	err := r.insist(ctx, func() error { return r.Ledger.Quarantine(ctx, m.Body, why, at) })
	if e, bad := bench.Decode(m.Body); err == nil && bad == nil {
		if e.N > r.Chain.N {
			if r.aside.Entries++; r.aside.Entries == 1 {
				r.aside.First = e.N
			}
			r.aside.Last = max(r.aside.Last, e.N)
		}
		r.Tell(bench.Outcome{N: e.N, ID: e.ID, Trouble: why}) // its bench, if it is this one, must not go on
	}
	return err
}

// insist tries until it is done or ctx ends, telling once.
func (r *Recorder) insist(ctx context.Context, do func() error) error {
	told := false
	for failures := 0; ; failures++ {
		err := do()
		if err == nil {
			if told {
				r.Alarm("ledger", "")
				r.Log.Info().Msg("the ledger takes entries again")
			}
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if !told {
			told = true
			r.Log.Error().Err(err).Msg("ledger does not take the entry; trying again")
			r.Alarm("ledger", fmt.Sprintf("the ledger cannot be written: %v. The entry is safe on the bus and is stored as soon as that is mended", err))
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(r.Wait(failures)):
		}
	}
}
