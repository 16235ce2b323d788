package bus

import (
	"context"
	"errors"
	"fmt"

	"github.com/nats-io/nats.go/jetstream"

	"thoud/capture/bench"
	"thoud/pipeline"
)

// Kept is an entry as it was published.
type Kept struct {
	ID   string
	Kind bench.Kind
	Body []byte
}

// PutBack gives the stream the newest entries again that it has lost, in their order, and returns the position after the
// last: where the ledger is then. A stream that is damaged or too short is begun anew, with another generation: messages
// cannot be put between those that are there. It must be called before anything else is appended or fed, and only with a
// ledger that outlives a power cut as far as the stream goes. progress hears how far it is; it may be nil.
func (s *Server) PutBack(ctx context.Context, entries []Kept, progress func(done, total int)) (pipeline.Position, error) {
	st, err := s.js.Stream(ctx, s.stream)
	if err != nil && !errors.Is(err, jetstream.ErrStreamNotFound) {
		return pipeline.Position{}, fmt.Errorf("bus: stream %s: %w", s.stream, err)
	}
	if err == nil && st.CachedInfo().State.LastSeq > 0 {
		if err := s.js.DeleteStream(ctx, s.stream); err != nil {
			return pipeline.Position{}, fmt.Errorf("bus: stream %s: %w", s.stream, err)
		}
	}
	if err := s.findStream(ctx); err != nil {
		return pipeline.Position{}, err
	}
	at := pipeline.Position{Generation: s.gen}
	for i, e := range entries {
		if err := s.publish(ctx, bench.Entry{ID: e.ID, Kind: e.Kind}, e.Body); err != nil {
			return at, fmt.Errorf("bus: entry %s put back: %w", e.ID, err)
		}
		at.Seq++
		if progress != nil {
			progress(i+1, len(entries))
		}
	}
	s.recorded.Store(at.Seq)
	return at, nil
}
