package bus

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/nats-io/nats.go"

	"thoud/capture/bench"
)

// VerbsAtOnce is how many verbs may wait for the bench at once; those above are told to ask again.
const VerbsAtOnce = 64

// asksAtOnce is how many questions are answered at once; those above wait for an answer that never comes, and ask again.
const asksAtOnce = 16

// ServeVerbs answers verbs on the bus until the returned function is called. Each verb is answered by its own
// goroutine, so that one that waits does not hold up another; there are at most VerbsAtOnce.
func (s *Server) ServeVerbs(do func(context.Context, bench.Verb) bench.Answer, patience time.Duration) (stop func(), err error) {
	at := make(chan struct{}, VerbsAtOnce)
	// The server's own client does not hear itself (no echo); verbs come over other connections.
	sub, err := s.nc.Subscribe(AllVerbs(s.cfg.Bench), func(m *nats.Msg) {
		select {
		case at <- struct{}{}:
		default:
			s.answer(m, bench.Answer{Words: fmt.Sprintf("%d verbs wait for the bench already: ask again in a moment", VerbsAtOnce)})
			return
		}
		go func() {
			defer func() { <-at }()
			ctx, cancel := context.WithTimeout(context.Background(), patience)
			defer cancel()
			s.answer(m, doVerb(ctx, m, do))
		}()
	})
	if err != nil {
		return nil, fmt.Errorf("bus: verbs: %w", err)
	}
	return func() { _ = sub.Unsubscribe() }, nil
}

// doVerb reads a verb and asks the bench.
func doVerb(ctx context.Context, m *nats.Msg, do func(context.Context, bench.Verb) bench.Answer) bench.Answer {
	var v bench.Verb
	if err := json.Unmarshal(m.Data, &v); err != nil {
		return bench.Answer{Words: fmt.Sprintf("the verb cannot be read: %v", err)}
	}
	v.Name = m.Subject[strings.LastIndexByte(m.Subject, '.')+1:]
	return do(ctx, v)
}

// ServeStatus answers how the bench stands, until the returned function is called.
func (s *Server) ServeStatus(status func() bench.Status) (stop func(), err error) {
	at := make(chan struct{}, asksAtOnce)
	sub, err := s.nc.Subscribe(AskSubject(s.cfg.Bench, "status"), func(m *nats.Msg) {
		select {
		case at <- struct{}{}:
		default:
			return
		}
		go func() {
			defer func() { <-at }()
			s.answer(m, status())
		}()
	})
	if err != nil {
		return nil, fmt.Errorf("bus: status: %w", err)
	}
	return func() { _ = sub.Unsubscribe() }, nil
}

// answer sends an answer to whoever asked. One that does not arrive is asked for again, under the same id.
func (s *Server) answer(m *nats.Msg, v any) {
	b, err := json.Marshal(v)
	if err == nil {
		err = respond(m, b, "")
	}
	if err != nil {
		s.cfg.Log.Warn().Err(err).Msg("answer not delivered")
	}
}
