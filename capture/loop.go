// Package capture keeps the bench: one goroutine makes entries from what the lines of the gauges tell it. It refuses to
// take a reading without a zero where the step has a datum, a value that is stale, and anything while an entry is not
// yet safe on the bus. It never guesses a reading and never drops one it has taken.
package capture

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
)

// Log keys.
const (
	keyStep = "step"
	keyN    = "n"
	keyKind = "kind"
)

// Log is where entries go to be safe. Append returns once the entry is durable, or with an error after which the same
// bytes under the same id may be appended again.
type Log interface {
	Append(ctx context.Context, e bench.Entry, body []byte) error
}

// Teller hands on what is shown but never stored.
type Teller interface {
	Live(bench.Live)
	Notice(bench.Notice)
}

// Loop is the bench loop: the one goroutine that makes entries. Set the exported fields, then Run.
type Loop struct {
	Log      Log
	Tell     Teller
	Open     line.Opener
	Resolve  func(bench.Gauge) (string, error)
	Profiles map[string]devices.Profile
	Now      func() time.Time
	NewID    func() string // UUIDv7
	Boot     string        // the machine's boot id
	ClockOK  func() bool
	Keys     map[string]string // pedal and gauge key name → verb
	Logger   zerolog.Logger
	// Lockout is how long a gauge's own key is ignored after a reading, so that pedal and key together, or a key that
	// bounces, do not record the next point by mistake.
	Lockout time.Duration
	// Retry is how long one attempt to publish may take.
	Retry time.Duration

	state     atomic.Pointer[bench.State]
	results   atomic.Pointer[bench.Results]
	chain     bench.Chain
	calls     chan call
	lines     chan line.Event
	settled   chan settlement
	out       chan bench.Outcome
	work      []task // tasks whose drafts are still to be appended; the first is under way
	flight    *bench.Entry
	watch     *board
	gauges    *line.Lines
	lastTake  time.Time
	faults    map[string]faulty // by gauge
	sweep     *sweep            // the one that runs, nil for none
	told      []said
	committed uint64                  // number of the last entry known to be in the ledger
	answers   map[string]bench.Answer // of the last verbs, by id
	still     map[string]*stillness   // settle, by gauge
	armedAt   map[string]time.Time
	armed     map[string]bench.Verb // a gauge that speaks on its key: what the next frame is for
	onBench   map[string]bool       // gauges that were open since the service started
}

// draft makes an entry from the state at the moment of its turn; nil skips it.
type draft func(bench.State) *bench.Entry

// prepares marks, in place of a verb's id, an entry that only makes ready for what the verb asks. It does not carry the
// id: a verb that was cut off after it, and is asked again, must not be taken for done.
const prepares = "prepares"

// said waits until its entry is in the ledger: only then is it true for the builder.
type said struct {
	n      uint64
	notice bench.Notice
}

// task is a row of drafts that belong together and what to say when they are safe.
type task struct {
	verb   bench.Verb
	drafts []draft
	words  string
	tone   string
	reply  chan<- bench.Answer
	n      uint64
}

type call struct {
	ctx   context.Context
	verb  bench.Verb
	reply chan bench.Answer
}

type settlement struct {
	entry bench.Entry
	body  []byte
}

// NewLoop makes a loop that goes on from a folded state, the chain's end, and the results in force.
func NewLoop(bnch string, s bench.State, chain bench.Chain, results bench.Results) *Loop {
	s.Bench = bnch
	l := &Loop{
		Resolve: line.ResolvePort, Open: line.OpenSerial, Now: time.Now, ClockOK: func() bool { return true },
		Keys: DefaultKeys(), Retry: time.Second, Lockout: 700 * time.Millisecond,
		chain: chain, committed: chain.N, calls: make(chan call), lines: make(chan line.Event, 256), settled: make(chan settlement, 1),
		out: make(chan bench.Outcome, 64), still: map[string]*stillness{},
		armed: map[string]bench.Verb{}, armedAt: map[string]time.Time{}, onBench: map[string]bool{}, faults: map[string]faulty{}, answers: map[string]bench.Answer{},
	}
	l.state.Store(&s)
	l.results.Store(&results)
	return l
}

// DefaultKeys are the verbs that a pedal's or a gauge's keys stand for.
func DefaultKeys() map[string]string {
	return map[string]string{"take": bench.DoTake, "zero": bench.DoZero, "retake": bench.DoRetake, "next": bench.DoNext, "pedal": bench.DoTake}
}

// State is the state after the last entry that is safe on the bus. Any goroutine may ask.
func (l *Loop) State() bench.State { return *l.state.Load() }

// Results are the newest results told to the loop. Any goroutine may ask.
func (l *Loop) Results() bench.Results { return *l.results.Load() }

// Outcome tells the loop what came of an entry. It blocks only while the loop's queue is full.
func (l *Loop) Outcome(ctx context.Context, o bench.Outcome) {
	select {
	case l.out <- o:
	case <-ctx.Done():
	}
}

// Do asks the bench for something and waits for its answer. Any goroutine may ask. When ctx ends first the verb may
// still be carried out; asking again with the same id tells.
func (l *Loop) Do(ctx context.Context, v bench.Verb) bench.Answer {
	c := call{ctx: ctx, verb: v, reply: make(chan bench.Answer, 1)}
	select {
	case l.calls <- c:
	case <-ctx.Done():
		return l.busyAnswer()
	}
	select {
	case a := <-c.reply:
		return a
	case <-ctx.Done():
		return bench.Answer{Words: "it is held and done as soon as its entry can be made safe: do not ask for it again, look at the status", Place: l.State().Place}
	}
}

func (l *Loop) busyAnswer() bench.Answer {
	return bench.Answer{Words: "the bench is still making the last entry safe, so this was not done; nothing is lost, ask again in a moment", Place: l.State().Place}
}

// Run keeps the bench until ctx ends. It returns when every line is closed and the entry under way, if any, is safe or
// was written to the log in full.
func (l *Loop) Run(ctx context.Context) error {
	if l.Log == nil || l.Tell == nil || l.NewID == nil {
		return errors.New("bench loop: Log, Tell and NewID must be set")
	}
	l.watch = newBoard(l.Tell, l.Now)
	lines, stopLines := context.WithCancel(ctx)
	l.gauges = &line.Lines{Open: l.Open, Resolve: l.Resolve, Now: l.Now, Log: l.Logger, OnEvent: func(ev line.Event) {
		l.watch.onEvent(ev)
		select {
		case l.lines <- ev:
		case <-lines.Done():
		}
	}}
	defer func() {
		stopLines()
		l.gauges.Wait()
	}()
	l.resume(ctx)
	for _, g := range l.State().Gauges {
		if !g.Removed {
			l.watch.gauge(g)
			l.start(lines, g.Gauge)
		}
	}
	// A service that was killed between a changed figure and the reopening of its step makes up for it.
	l.reopenChanged(ctx, l.Results().All())
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for {
		calls, events := l.calls, l.lines
		if len(l.work) > 0 {
			calls, events = nil, nil // no next reading until the last one is safe
		}
		select {
		case <-ctx.Done():
			return l.last()
		case s := <-l.settled:
			l.onSettled(ctx, lines, s)
		case o := <-l.out:
			l.onOutcome(ctx, o)
		case c := <-calls:
			l.onCall(ctx, c)
		case ev := <-events:
			l.onEvent(ctx, ev)
		case <-tick.C:
			l.watch.flush()
			if len(l.work) == 0 {
				l.onTick(ctx)
			}
		}
	}
}

const tickEvery = leastApart

// last waits for the entry in flight a moment longer; what is not safe by then goes to the log in full, never nowhere.
func (l *Loop) last() error {
	if l.flight == nil {
		return nil
	}
	select {
	case s := <-l.settled:
		if s.entry.N != 0 {
			return nil
		}
	case <-time.After(2 * l.Retry):
	}
	body, err := json.Marshal(*l.flight) // the bytes as they would have been published
	if err != nil {
		return fmt.Errorf("entry %d was not safe on the bus when the service stopped, and cannot be written: %w", l.flight.N, err)
	}
	l.Logger.Error().Uint64(keyN, l.flight.N).RawJSON("entry", body).Msg("stopped before this entry was safe: it is written here so that nothing is lost")
	return fmt.Errorf("entry %d was not safe on the bus when the service stopped; it stands in the log", l.flight.N)
}

func (l *Loop) start(ctx context.Context, g bench.Gauge) {
	if g.Known == bench.KnownKeyed {
		return
	}
	prof, ok := l.Profiles[g.Profile]
	if !ok {
		l.trouble("gauge "+g.Name, fmt.Sprintf("gauge %q: there is no profile %q: put its file into the profiles folder and start again", g.Name, g.Profile))
		return
	}
	l.gauges.Add(ctx, g, prof)
}

// enqueue adds a task; its drafts are appended one at a time.
func (l *Loop) enqueue(ctx context.Context, t task) {
	l.work = append(l.work, t)
	if len(l.work) == 1 {
		l.advance(ctx)
	}
}

// advance sends the next draft of the task under way, or ends it.
func (l *Loop) advance(ctx context.Context) {
	for len(l.work) > 0 {
		t := &l.work[0]
		for len(t.drafts) > 0 {
			d := t.drafts[0]
			t.drafts = t.drafts[1:]
			if e := d(l.State()); e != nil {
				l.send(ctx, e, t.verb.ID)
				return
			}
		}
		l.finish(*t)
		l.work = l.work[1:]
	}
}

func (l *Loop) finish(t task) {
	if t.tone != "" || t.words != "" {
		l.told = append(l.told, said{t.n, bench.Notice{Tone: t.tone, Words: t.words}})
		l.tellCommitted()
	}
	l.answer(t.verb, t.reply, bench.Answer{OK: true, Words: t.words, N: t.n, Place: l.State().Place})
}

// tellCommitted says what was waiting for its entry to reach the ledger.
func (l *Loop) tellCommitted() {
	for len(l.told) > 0 && l.told[0].n <= l.committed {
		n := l.told[0].notice
		n.At = l.Now().UnixMicro()
		l.Tell.Notice(n)
		l.told = l.told[1:]
	}
}

func (l *Loop) send(ctx context.Context, e *bench.Entry, verb string) {
	e.Bench, e.ID, e.At, e.Boot, e.ClockOK = l.State().Bench, l.NewID(), l.Now().UnixMicro(), l.Boot, l.ClockOK()
	if e.Verb == prepares {
		e.Verb = ""
	} else {
		e.Verb = verb
	}
	entry, body, err := l.chain.Number(*e)
	if err != nil {
		// Only a value that cannot be JSON gets here: a fault of this program, told as such.
		l.Logger.Error().Err(err).Msg("entry cannot be written")
		l.work[0].drafts = nil
		return
	}
	l.flight = &entry
	go l.publish(ctx, entry, body)
}

// publish appends one entry, the same bytes under the same id, until it is safe.
func (l *Loop) publish(ctx context.Context, e bench.Entry, body []byte) {
	told := false
	for failures := 0; ; failures++ {
		// The attempt outlives ctx a moment: a service that is told to stop still makes its last entry safe.
		attempt, cancel := context.WithTimeout(context.WithoutCancel(ctx), l.Retry)
		err := l.Log.Append(attempt, e, body)
		cancel()
		if err == nil {
			if told {
				l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Source: "bus", Words: "entries are being stored again"})
				l.Logger.Info().Uint64(keyN, e.N).Msg("entries are being stored again")
			}
			l.settled <- settlement{e, body}
			return
		}
		if !told {
			told = true
			words := fmt.Sprintf("entry %d (%s) cannot be made safe yet: %v; it is held and stored as soon as that is mended; take no other reading", e.N, e.Kind, err)
			l.Logger.Error().Uint64(keyN, e.N).Err(err).Msg("entry not safe yet")
			l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "fault", Source: "bus", Words: words, Stands: true})
		}
		if ctx.Err() != nil {
			l.settled <- settlement{}
			return
		}
		select {
		case <-ctx.Done():
		case <-time.After(line.Backoff(failures)):
		}
	}
}

func (l *Loop) onSettled(ctx, lines context.Context, s settlement) {
	if s.entry.N == 0 {
		return
	}
	l.flight = nil
	chain, err := l.chain.Next(s.entry, s.body)
	if err != nil {
		l.Logger.Error().Err(err).Msg("own entry does not follow")
		return
	}
	l.chain = chain
	next, err := bench.Apply(l.State(), s.entry)
	if err != nil {
		l.Logger.Error().Err(err).Msg("own entry means nothing here")
	}
	l.state.Store(&next)
	l.work[0].n = s.entry.N
	l.after(lines, s.entry, next)
	l.advance(ctx)
}

// after does what follows an entry outside the ledger: lines to open or close, the live board, the lockout.
func (l *Loop) after(lines context.Context, e bench.Entry, s bench.State) {
	switch e.Kind {
	case bench.GaugeAdded:
		l.gauges.Remove(e.Gauge.Name)
		l.start(lines, *e.Gauge)
	case bench.GaugeRemoved:
		l.calm("gauge " + e.Item)
		l.gauges.Remove(e.Item)
		l.watch.remove(e.Item)
	case bench.ReadingTaken:
		l.lastTake = l.Now()
		if st, ok := l.still[e.Reading.Gauge]; ok {
			st.left(e.Reading.Raw)
		}
	}
	for _, g := range s.Gauges {
		if !g.Removed {
			l.watch.gauge(g)
		}
	}
}

func (l *Loop) trouble(source, words string) {
	l.Logger.Warn().Msg(words)
	l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Tone: "fault", Source: source, Words: words, Stands: true})
}

func (l *Loop) calm(source string) {
	l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Source: source})
}
