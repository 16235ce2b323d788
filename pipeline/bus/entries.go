package bus

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"thoud/capture/bench"
	"thoud/pipeline"
)

// ErrFull means that the disk, or the stream, has no room for another entry.
var ErrFull = errors.New("no room left on the disk")

// Append publishes an entry and returns once it is on disk. The same entry may be appended again after an error: its id
// is the message's, so it is kept once. ErrFull where there is no room.
func (s *Server) Append(ctx context.Context, e bench.Entry, body []byte) error {
	if err := s.recover(); err != nil {
		return err
	}
	err := s.publish(ctx, e, body)
	if err != nil && isStreamFull(err) && s.forget(ctx) {
		err = s.publish(ctx, e, body)
	}
	if err != nil {
		return s.explain(err)
	}
	s.failures.Store(0)
	return nil
}

func (s *Server) publish(ctx context.Context, e bench.Entry, body []byte) error {
	msg := &nats.Msg{Subject: EntrySubject(s.cfg.Bench, string(e.Kind)), Data: body}
	_, err := s.js.PublishMsg(ctx, msg, jetstream.WithMsgID(e.ID), jetstream.WithExpectStream(s.stream))
	return err
}

// isStreamFull reports whether the stream has reached its size; the disk may have room.
func isStreamFull(err error) bool { return strings.Contains(err.Error(), "maximum bytes exceeded") }

// forget lets a stream that has reached its size forget the older half of what is recorded. It never forgets what is
// not: while the ledger takes nothing, the stream fills and refuses. It reports whether anything was forgotten.
func (s *Server) forget(ctx context.Context) bool {
	st, err := s.js.Stream(ctx, s.stream)
	if err != nil {
		return false
	}
	first, recorded := st.CachedInfo().State.FirstSeq, s.safe()
	if recorded < first {
		return false
	}
	if err := st.Purge(ctx, jetstream.WithPurgeSequence(first+(recorded-first)/2+1)); err != nil {
		s.cfg.Log.Warn().Err(err).Msg("bus: stream full, not trimmed")
		return false
	}
	s.cfg.Log.Info().Uint64("recorded", recorded).Msg("bus: stream full, the older half of what is recorded was let go")
	return true
}

// safe is the sequence of the last message that the ledger will have whatever happens.
func (s *Server) safe() uint64 {
	if s.cfg.Synced == nil {
		return s.recorded.Load()
	}
	at := s.cfg.Synced()
	if at.Generation != s.gen {
		return 0
	}
	return at.Seq
}

// Holding is what the stream holds of its messages.
type Holding struct {
	Generation  string
	First, Last uint64 // sequences
	Messages    uint64
}

// Missing is how many messages between its first and its last the stream has lost: it never gives up one by one what it
// took, so each is damage.
func (h Holding) Missing() uint64 {
	if h.Messages == 0 || h.Last < h.First {
		return 0
	}
	return h.Last - h.First + 1 - h.Messages
}

// Holds tells what the stream holds.
func (s *Server) Holds(ctx context.Context) (Holding, error) {
	st, err := s.js.Stream(ctx, s.stream)
	if err != nil {
		return Holding{}, fmt.Errorf("bus: stream %s: %w", s.stream, err)
	}
	state := st.CachedInfo().State
	return Holding{s.gen, state.FirstSeq, state.LastSeq, state.Msgs}, nil
}

// explain tells a full disk from a server that is merely slow: on a full disk the embedded server stops answering.
func (s *Server) explain(err error) error {
	if isStreamFull(err) {
		return fmt.Errorf("%w: the stream in %s has reached its size, and the ledger has not taken what is in it (%s)", ErrFull, s.cfg.Dir, err)
	}
	free, ferr := freeSpace(s.cfg.Dir)
	full := ferr == nil && free < 1<<20 || errors.Is(err, syscall.ENOSPC) || strings.Contains(err.Error(), "insufficient storage")
	if full {
		s.full.Store(true)
		return fmt.Errorf("%w (%s): make room in %s", ErrFull, err, s.cfg.Dir)
	}
	if s.failures.Add(1)%failuresBorne == 0 {
		// It met a fault that is over, a full disk that has room again before anybody looked: it would never answer.
		s.full.Store(true)
	}
	return fmt.Errorf("bus: %w", err)
}

// recover restarts the server after it met a full disk, once there is room again, or after it failed too often: until
// then it would let every publish time out.
func (s *Server) recover() error {
	if !s.full.Load() {
		return nil
	}
	if free, err := freeSpace(s.cfg.Dir); err != nil || free < roomWanted {
		return fmt.Errorf("%w: %d kB free in %s, %d kB are wanted", ErrFull, free>>10, s.cfg.Dir, roomWanted>>10)
	}
	if err := s.Restart(); err != nil {
		return err
	}
	s.full.Store(false)
	return nil
}

// failuresBorne is after how many failures in a row the server is started again, though the disk has room.
const failuresBorne = 4

// roomWanted is the free space from which entries are taken again after the disk was full.
const roomWanted = 2 << 20

// Feed delivers a bench's entries to the recorder, in order.
type Feed struct {
	server *Server
	from   uint64
	next   uint64 // sequence expected next
	until  uint64 // drain: the last one there was; 0 = for ever
	iter   jetstream.MessagesContext
}

// Feed starts after a position: at the message after it, or at the first where the stream is another one, or shorter
// than the position.
func (s *Server) Feed(ctx context.Context, at pipeline.Position, drain bool) (*Feed, error) {
	st, err := s.js.Stream(ctx, s.stream)
	if err != nil {
		return nil, fmt.Errorf("bus: stream %s: %w", s.stream, err)
	}
	info := st.CachedInfo()
	f := &Feed{server: s, from: at.Seq + 1}
	if at.Generation != s.gen || at.Seq > info.State.LastSeq {
		f.from = 1
	}
	s.recorded.Store(max(s.recorded.Load(), f.from-1))
	if drain {
		f.until = info.State.LastSeq
		if f.until < f.from || info.State.Msgs == 0 {
			f.until = 0
			f.from = 0 // nothing to drain
		}
	}
	f.next = f.from
	return f, nil
}

// Generation names the stream.
func (f *Feed) Generation() string { return f.server.gen }

// Last is the sequence of the last message given; 0 before the first.
func (f *Feed) Last() uint64 {
	if f.next <= f.from {
		return 0
	}
	return f.next - 1
}

// Next waits for the next message. Asking for it says that the one before is recorded. After a broken connection it goes
// on from where it was.
func (f *Feed) Next(ctx context.Context) (pipeline.Message, error) {
	if last := f.Last(); last > 0 {
		f.server.recorded.Store(last)
	}
	if f.from == 0 || f.until != 0 && f.next > f.until {
		return pipeline.Message{}, pipeline.ErrDry
	}
	for ctx.Err() == nil {
		m, err := f.pull(ctx)
		if err == nil {
			meta, err := m.Metadata()
			if err != nil {
				return pipeline.Message{}, fmt.Errorf("bus: %w", err)
			}
			f.next = meta.Sequence.Stream + 1
			return pipeline.Message{Seq: meta.Sequence.Stream, Body: m.Data()}, nil
		}
		f.Close()
		select {
		case <-ctx.Done():
		case <-time.After(200 * time.Millisecond):
		}
	}
	return pipeline.Message{}, ctx.Err()
}

func (f *Feed) pull(ctx context.Context) (jetstream.Msg, error) {
	if f.iter == nil {
		c, err := f.server.js.OrderedConsumer(ctx, f.server.stream, jetstream.OrderedConsumerConfig{
			DeliverPolicy: jetstream.DeliverByStartSequencePolicy, OptStartSeq: f.next, InactiveThreshold: time.Minute,
			// The client would try for ever within one call, whatever ctx says, where the stream is gone. Next tries again.
			MaxResetAttempts: 1,
		})
		if err != nil {
			return nil, err
		}
		if f.iter, err = c.Messages(); err != nil {
			return nil, err
		}
	}
	return f.iter.Next(jetstream.NextContext(ctx))
}

// Close stops the delivery; Next would begin it again.
func (f *Feed) Close() {
	if f.iter != nil {
		f.iter.Stop()
		f.iter = nil
	}
}

// Trim lets the stream forget messages below a sequence.
func (f *Feed) Trim(ctx context.Context, below uint64) error {
	st, err := f.server.js.Stream(ctx, f.server.stream)
	if err != nil {
		return fmt.Errorf("bus: %w", err)
	}
	return st.Purge(ctx, jetstream.WithPurgeSequence(below))
}

// Outcome publishes what came of an entry. What was asked of the methods stays in the ledger: the samples of a sweep
// would not fit a message.
func (s *Server) Outcome(o bench.Outcome) {
	step := ""
	if len(o.Results) > 0 {
		step = o.Results[0].Step
	}
	o.Results = slices.Clone(o.Results)
	for i := range o.Results {
		o.Results[i].Request.Inputs = nil
	}
	s.say(ResultSubject(s.cfg.Bench, step), o)
}

// Live publishes a gauge's newest value.
func (s *Server) Live(v bench.Live) { s.say(LiveSubject(s.cfg.Bench, v.Gauge), v) }

// Notice publishes a tone or a trouble.
func (s *Server) Notice(n bench.Notice) { s.say(NoticeSubject(s.cfg.Bench), n) }

// say publishes what is shown and not kept; while the server restarts it is lost, and the next one shows.
func (s *Server) say(subject string, v any) {
	b, err := json.Marshal(v)
	if err != nil {
		s.cfg.Log.Error().Err(err).Str("subject", subject).Msg("cannot be told")
		return
	}
	if err := s.nc.Publish(subject, b); err != nil {
		s.cfg.Log.Debug().Err(err).Str("subject", subject).Msg("not told")
	}
}
